import { spansOn } from './orderTerms.js';
import type { RoutingProblem } from './problem.js';

/**
 * On which days a crew may be at each place, a bit a day: two places that share none are never on one route, and
 * nobody needs to know the way between them. Depots, and where crews are, count for every day.
 */
export function placeDays(
  { days, orders }: Pick<RoutingProblem, 'days' | 'orders'>,
  placeCount: number,
): Int32Array {
  const every = (1 << days.length) - 1;
  const masks = new Int32Array(placeCount);
  for (const order of orders) {
    for (let day = 0; day < days.length; day++)
      if (spansOn(order, day).length > 0) masks[order.location] = masks[order.location]! | (1 << day);
  }
  const ofOrders = new Set(orders.map(({ location }) => location));
  for (let place = 0; place < placeCount; place++) if (!ofOrders.has(place)) masks[place] = every;
  return masks;
}
