import { type Budget, NO_ITERATION } from './budget.js';
import { fillQuickly } from './fill.js';
import { insert } from './insert.js';
import type { InsertionCache } from './insertionCache.js';
import type { RouteState } from './routeState.js';

/**
 * Fills the routes from nothing: orders that must be placed first, by how much dearer their second best
 * route is; then the others by what placing them saves, scarce crews counted in, per second it takes. When the time
 * is up the rest goes in quickly.
 */
export function regretStart(state: RouteState, cache: InsertionCache, budget: Budget): void {
  const { model } = state;
  const best = new Float64Array(model.orderCount);
  const second = new Float64Array(model.orderCount);
  const route = new Int32Array(model.orderCount);
  const secondRoute = new Int32Array(model.orderCount);
  const look = (c: number) => {
    cache.findTwo(c);
    best[c] = cache.bestCost;
    second[c] = cache.secondCost;
    route[c] = cache.route;
    secondRoute[c] = cache.secondRoute;
  };
  for (let at = 0; at < state.absentCount; at++) {
    if (budget(NO_ITERATION) >= 1) {
      fillQuickly(state, cache);
      return;
    }
    look(state.absent[at]!);
  }

  for (;;) {
    if (budget(NO_ITERATION) >= 1) {
      fillQuickly(state, cache);
      return;
    }
    let chosen = -1;
    let chosenUrgency = -Infinity;
    for (let at = 0; at < state.absentCount; at++) {
      const c = state.absent[at]!;
      if (route[c] === -1 || best[c]! >= model.leaveCost[c]!) continue;
      const urgency = urgencyOf(state, c, best[c]!, second[c]!, route[c]!);
      if (urgency > chosenUrgency || (urgency === chosenUrgency && c < chosen)) {
        chosen = c;
        chosenUrgency = urgency;
      }
    }
    if (chosen === -1) return;
    const v = route[chosen]!;
    cache.costOn(chosen, v);
    insert(state, chosen, cache.place, v);
    for (let at = 0; at < state.absentCount; at++) {
      const c = state.absent[at]!;
      // Only who counted on this route, or likes it better as it is now, needs to look again.
      const counted = route[c] === v || secondRoute[c] === v || model.linked[c] === 1;
      if (counted || cache.costOn(c, v) < second[c]!) look(c);
    }
  }
}

/** Larger than any urgency of an order that may be left out. */
const MUST = 1e15;

function urgencyOf(state: RouteState, c: number, best: number, second: number, v: number): number {
  const { model } = state;
  if (model.orders[c]!.unplacedCost === null) {
    return MUST * (model.depth[c] === 1 ? 2 : 1) + Math.min(second, MUST / 2) - best;
  }
  const leave = model.leaveCost[c]!;
  const scarcity = Math.min(second, leave) - best;
  const seconds = model.serviceSeconds[c * model.crewDayCount + v]! + Math.max(0, best) + 1;
  return (leave - best + scarcity) / seconds;
}
