import type { UnplacedOrder } from './plan.js';
import type { RouteState } from './routeState.js';

export function explainUnplaced(state: RouteState): UnplacedOrder[] {
  return [...state.absent.subarray(0, state.absentCount)]
    .sort((a, b) => a - b)
    .map((c) => ({
      orderId: state.model.orders[c]!.id,
      code: 'no_time_left',
      facts: {},
      text: '',
      cheapestPlace: null,
    }));
}
