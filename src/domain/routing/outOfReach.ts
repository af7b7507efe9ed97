import { bestWithoutRefills } from './insertion.js';
import type { Model } from './model.js';
import { onDays, openDays, type Reason, reason } from './reasons.js';
import type { RouteState } from './routeState.js';
import { NEVER, nextOpen } from './windows.js';

/** What keeps a crew that could do the order from it even with its whole day to itself, farthest from done first. */
const HURDLES = ['late', 'distance', 'length', 'opening', 'break', 'tanks'] as const;
type Hurdle = (typeof HURDLES)[number];

/**
 * Why no able crew makes order c even with the whole day to itself: the hurdle of the one that comes nearest.
 *
 * @param alone Routes without any stop.
 */
export function outOfReach(alone: RouteState, c: number, able: readonly number[]): Reason {
  const { model } = alone;
  const order = model.orders[c]!;
  const when = onDays(order, model.problem.days);
  const days = openDays(order, model.problem.days);
  const found = able.map((v) => hurdleOf(alone, c, v));
  const nearest = HURDLES.findLast((hurdle) => found.includes(hurdle)) ?? 'tanks';
  switch (nearest) {
    case 'late':
      return reason('window_closed', { days }, `no able crew can be there before its hours end ${when}`);
    case 'opening':
      return reason(
        'window_closed',
        { days },
        `its hours begin too late for any able crew to be home in time ${when}`,
      );
    case 'distance':
      return tooFar(model, c, able, when);
    case 'length':
      return reason(
        'shift_too_short',
        { serviceSeconds: order.serviceSeconds },
        `it takes longer than the shift of any able crew ${when}`,
      );
    case 'break':
      return reason('no_time_for_break', { days }, `no able crew could take its break at its time ${when}`);
    case 'tanks':
      return reason(
        'tank_too_small',
        { waterLitres: order.waterLitres, wasteLitres: order.wasteLitres },
        `no able crew has the water or the room for waste left, nor time to fill or empty its tanks ${when}`,
      );
    default:
      return nearest satisfies never;
  }
}

function hurdleOf(alone: RouteState, c: number, v: number): Hurdle {
  const { model } = alone;
  const { shiftStart, latestEnd, dayCount, dayOf, crewDayCount } = model;
  const pair = c * dayCount + dayOf[v]!;
  const { there, back } = legsOf(model, c, v);
  const service = model.serviceSeconds[c * crewDayCount + v]!;
  const available = latestEnd[v]! - shiftStart[v]!;
  const begin = nextOpen(model.windows, pair, shiftStart[v]! + there);
  if (begin === NEVER) return 'late';
  if (service > available) return 'length';
  if (there + service + back > available) return 'distance';
  if (begin + service + back > latestEnd[v]!) return 'opening';
  return bestWithoutRefills(alone, c, v) === Infinity ? 'break' : 'tanks';
}

function tooFar(model: Model, c: number, able: readonly number[], when: string): Reason {
  const drivingSeconds = Math.min(
    ...able.map((v) => {
      const { there, back } = legsOf(model, c, v);
      return there + back;
    }),
  );
  const facts = { drivingSeconds, serviceSeconds: model.orders[c]!.serviceSeconds };
  if (drivingSeconds >= 86_400) return reason('too_far', facts, 'no way leads there within a day');
  return reason(
    'too_far',
    facts,
    `with ${hoursText(drivingSeconds)} of driving it does not fit into the shift of any able crew ${when}`,
  );
}

function legsOf(model: Model, c: number, v: number): { there: number; back: number } {
  const { orderCount: n, crewDayCount: V, locationOf, size, arcSeconds } = model;
  const here = locationOf[c]!;
  return {
    there: arcSeconds[locationOf[n + v]! * size + here]!,
    back: arcSeconds[here * size + locationOf[n + V + v]!]!,
  };
}

function hoursText(seconds: number): string {
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
