import { insert } from './insert.js';
import type { InsertionCache } from './insertionCache.js';
import type { RouteState } from './routeState.js';

/** Inserts what was left out as long as any of it costs less to serve than to leave. */
export function fill(state: RouteState, cache: InsertionCache): void {
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
  }
}
