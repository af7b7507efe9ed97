import { bestInsertion, linksAllow } from './insertion.js';
import type { InsertionCache } from './insertionCache.js';
import type { Model } from './model.js';
import { placesOn } from './places.js';
import type { Place, UnplacedOrder } from './plan.js';
import { crewWith, listed, noCrewReason, onDays, openDays, type Reason, reason, spoken } from './reasons.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';

/** Up to so many pairs of order and crew-day all crew-days are asked for the cheapest place, else those near by. */
const MOST_PAIRS = 20_000;
const NEAR_STOPS = 40;

/** Why each order that was left out is, and what its cheapest place would be. */
export function explainUnplaced(state: RouteState, cache: InsertionCache): UnplacedOrder[] {
  const { model } = state;
  const orders = [...state.absent.subarray(0, state.absentCount)].sort((a, b) => a - b);
  const everywhere = orders.length * model.crewDayCount <= MOST_PAIRS;
  const alone = new RouteState(model);
  for (let v = 0; v < model.crewDayCount; v++) refresh(alone, v);
  return orders.map((c) => {
    const [cheapestPlace] = placesOn(state, cache, c, everywhere ? allOf(model) : nearOf(state, c), 1);
    return {
      orderId: model.orders[c]!.id,
      ...reasonFor(state, cache, alone, c, cheapestPlace ?? null),
      cheapestPlace: cheapestPlace ?? null,
    };
  });
}

function allOf(model: Model): number[] {
  return Array.from({ length: model.crewDayCount }, (_, v) => v);
}

function nearOf(state: RouteState, c: number): number[] {
  const { neighbours, neighbourCount } = state.model;
  const routes = new Set(
    state.candidates.subarray(0, state.candidateCount).filter((v) => state.length[v] === 0),
  );
  for (let rank = 0; rank < Math.min(NEAR_STOPS, neighbourCount); rank++) {
    const v = state.routeOf[neighbours[c * neighbourCount + rank]!]!;
    if (v !== -1) routes.add(v);
  }
  return [...routes];
}

/**
 * Why order c has no place in the routes.
 *
 * @param alone Routes of the same model without any stop.
 * @param place Its cheapest place, where other stops give way.
 */
export function reasonFor(
  state: RouteState,
  cache: InsertionCache,
  alone: RouteState,
  c: number,
  place: Place | null,
): Reason {
  const { model } = state;
  const order = model.orders[c]!;
  const { days } = model.problem;
  const able = allOf(model).filter((v) => model.able[c * model.crewDayCount + v] === 1);
  if (able.length === 0) {
    const none = noCrewReason(order, { ...model.problem, crewDays: model.crewDays });
    if (none) return none;
  }
  const links = model.before[c]!.filter((link) => state.routeOf[link.order] === -1);
  if (links.length > 0) {
    const names = links.map((link) => nameOf(model, link.order));
    return reason(
      'predecessor_unplaced',
      { orderIds: links.map((link) => model.orders[link.order]!.id) },
      `must follow ${listed(names)}, which is not placed`,
    );
  }
  const reachable = able.filter((v) => bestInsertion(alone, c, v) < Infinity);
  if (reachable.length === 0) return outOfReach(model, c, able);
  const inTime = reachable.filter((v) => linksAllow(state, c, v));
  if (inTime.length === 0) {
    const names = model.before[c]!.map((link) => nameOf(model, link.order));
    return reason(
      'too_soon_after_predecessor',
      { orderIds: model.before[c]!.map((link) => model.orders[link.order]!.id) },
      `no able crew ${onDays(order, days)} late enough after ${listed(names)}`,
    );
  }
  const free = inTime.filter((v) => state.sharedKit.couldTake(c, v));
  const withTime = inTime.filter((v) => cache.costOn(c, v) < Infinity);
  if (withTime.some((v) => !free.includes(v)) && !withTime.some((v) => free.includes(v))) {
    const kinds = model.sharedKinds.filter(
      (_, k) => model.needsShared[c * model.sharedKinds.length + k] === 1,
    );
    return reason(
      'shared_kit_taken',
      { needs: kinds },
      `${kinds.map(spoken).join(' and ')} taken by other crews ${onDays(order, days)}`,
    );
  }
  if (place && place.displaces.length === 0 && free.some((v) => cache.costOn(c, v) < Infinity)) {
    return reason(
      'costs_more_than_waiting',
      { extraCost: place.extraCost, unplacedCost: model.leaveCost[c]! },
      'serving it would cost more than leaving it out',
    );
  }
  return reason(
    'no_time_left',
    { needs: order.needs },
    `no time left on a ${crewWith(order.needs)} ${onDays(order, days)}`,
  );
}

function nameOf(model: Model, c: number): string {
  return model.orders[c]!.name ?? model.orders[c]!.id;
}

/** Even with the whole day to itself no able crew makes it. */
function outOfReach(model: Model, c: number, able: readonly number[]): Reason {
  const order = model.orders[c]!;
  const { days } = model.problem;
  const late = able.every((v) => {
    const leg = model.locationOf[model.orderCount + v]! * model.size + model.locationOf[c]!;
    return (
      model.shiftStart[v]! + model.arcSeconds[leg]! > model.closes[c * model.dayCount + model.dayOf[v]!]!
    );
  });
  return late
    ? reason(
        'window_closed',
        { days: openDays(order, days) },
        `no able crew can be there before its hours end ${onDays(order, days)}`,
      )
    : reason(
        'shift_too_short',
        { serviceSeconds: order.serviceSeconds },
        `it takes longer than the shift of any able crew ${onDays(order, days)}`,
      );
}
