import { type Budget, NO_ITERATION } from './budget.js';
import { bestInsertion, linksAllow } from './insertion.js';
import type { InsertionCache } from './insertionCache.js';
import type { Model } from './model.js';
import { outOfReach } from './outOfReach.js';
import { placesOn } from './places.js';
import type { UnplacedOrder } from './plan.js';
import { crewWith, listed, noCrewReason, onDays, type Reason, reason, spoken } from './reasons.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';

/** Up to so many pairs of order and crew-day all crew-days are asked for the cheapest place, else those near by. */
const MOST_PAIRS = 20_000;
const NEAR_STOPS = 40;
/** Up to this share of the search's time it is looked who would have to give way. */
const EXPLAINED_BY = 1.1;

/** Why each order that was left out is, and what its cheapest place would be. */
export function explainUnplaced(state: RouteState, cache: InsertionCache, budget: Budget): UnplacedOrder[] {
  const { model } = state;
  const orders = [...state.absent.subarray(0, state.absentCount)].sort((a, b) => a - b);
  const everywhere = orders.length * model.crewDayCount <= MOST_PAIRS;
  const alone = new RouteState(model);
  for (let v = 0; v < model.crewDayCount; v++) refresh(alone, v);
  return orders.map((c) => {
    const crewDays = everywhere ? allOf(model) : nearOf(state, c);
    const mostDisplaced = budget(NO_ITERATION) < EXPLAINED_BY ? undefined : 0;
    const [cheapestPlace] = placesOn(state, cache, c, crewDays, 1, mostDisplaced);
    return {
      orderId: model.orders[c]!.id,
      ...reasonFor(state, cache, alone, c),
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
 */
export function reasonFor(state: RouteState, cache: InsertionCache, alone: RouteState, c: number): Reason {
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
  if (reachable.length === 0) return outOfReach(alone, c, able);
  const inTime = reachable.filter((v) => linksAllow(state, c, v));
  if (inTime.length === 0) {
    const names = model.before[c]!.map((link) => nameOf(model, link.order));
    return reason(
      'too_soon_after_predecessor',
      { orderIds: model.before[c]!.map((link) => model.orders[link.order]!.id) },
      `no able crew ${onDays(order, days)} late enough after ${listed(names)}`,
    );
  }
  const withTime = inTime.filter((v) => cache.costOn(c, v) < Infinity);
  const free = withTime.filter((v) => state.sharedKit.couldTake(c, v));
  if (free.length > 0) return notWorthwhile(model, c, Math.min(...free.map((v) => cache.costOn(c, v))));
  if (withTime.length > 0) {
    const kinds = model.sharedKinds.filter(
      (_, k) => model.needsShared[c * model.sharedKinds.length + k] === 1,
    );
    return reason(
      'shared_kit_taken',
      { needs: kinds },
      `${kinds.map(spoken).join(' and ')} taken by other crews ${onDays(order, days)}`,
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

/** It could be served as the routes are, for so much more. */
function notWorthwhile(model: Model, c: number, extraCost: number): Reason {
  const unplacedCost = model.leaveCost[c]!;
  return extraCost >= unplacedCost
    ? reason(
        'costs_more_than_waiting',
        { extraCost, unplacedCost },
        'serving it would cost more than leaving it out',
      )
    : reason('search_ended', { extraCost, unplacedCost }, 'there is room for it: the search ended too early');
}
