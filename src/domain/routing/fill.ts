import { type Budget, NO_ITERATION } from './budget.js';
import { insert } from './insert.js';
import type { InsertionCache } from './insertionCache.js';
import type { RouteState } from './routeState.js';

/** Inserts what was left out as long as any of it costs less to serve than to leave, what saves most first. */
export function fill(state: RouteState, cache: InsertionCache, budget: Budget): void {
  for (;;) {
    let bestSaving = 0;
    let chosen = -1;
    for (let at = 0; at < state.absentCount; at++) {
      const c = state.absent[at]!;
      cache.findTwo(c);
      const saving = state.model.leaveCost[c]! - cache.bestCost;
      if (saving > bestSaving || (saving === bestSaving && chosen !== -1 && c < chosen)) {
        bestSaving = saving;
        chosen = c;
      }
    }
    if (chosen === -1) return;
    cache.findTwo(chosen);
    insert(state, chosen, cache.place, cache.route);
    if (budget(NO_ITERATION) >= 1) {
      fillQuickly(state, cache);
      return;
    }
  }
}

/** As `fill`, with one look at each order: what must be placed, then the dearest to leave for the time it takes. */
export function fillQuickly(state: RouteState, cache: InsertionCache): void {
  const { model } = state;
  const worth = (c: number) => model.leaveCost[c]! / (model.orders[c]!.serviceSeconds + model.typicalLeg);
  const orders = [...state.absent.subarray(0, state.absentCount)];
  orders.sort((a, b) => model.depth[a]! - model.depth[b]! || worth(b) - worth(a) || a - b);
  for (const c of orders) {
    const cost = cache.findBest(c, () => false);
    if (cost < model.leaveCost[c]!) insert(state, c, cache.place, cache.route);
  }
}
