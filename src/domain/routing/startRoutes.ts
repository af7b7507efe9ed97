import { insert } from './insert.js';
import { mayEnter } from './insertion.js';
import type { InsertionCache } from './insertionCache.js';
import type { StartRoutes } from './plan.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';
import { findStretch } from './stretch.js';

/**
 * Lays a given plan into the empty routes, as far as it still can be driven: each stop in its old place, an
 * order that no longer fits there wherever it is cheapest, or left out. Unknown ids and repeats are passed over.
 */
export function layStartRoutes(state: RouteState, cache: InsertionCache, start: StartRoutes): void {
  const { model } = state;
  for (const c of layWhatFits(state, start)) {
    if (state.routeOf[c] !== -1) continue;
    const cost = cache.findBest(c, () => false);
    if (cost < model.leaveCost[c]!) insert(state, c, cache.place, cache.route);
  }
}

/** Lays each stop in its place as far as it can be driven there; the orders that no longer fit, in sequence. */
export function layWhatFits(state: RouteState, start: StartRoutes): number[] {
  const left: number[] = [];
  for (const { v, orders } of inDayOrder(state, start))
    for (const c of orders) if (state.routeOf[c] === -1 && !append(state, c, v)) left.push(c);
  return left;
}

/** Earlier days first, so that what must come before is there before what follows it. */
function inDayOrder(state: RouteState, start: StartRoutes): { v: number; orders: number[] }[] {
  const { crewDayIndex, orderIndex } = state.model;
  return start
    .flatMap(({ crewDayId, orderIds }) => {
      const v = crewDayIndex.get(crewDayId);
      const orders = orderIds.flatMap((id) => orderIndex.get(id) ?? []);
      return v === undefined ? [] : [{ v, orders }];
    })
    .sort((a, b) => a.v - b.v);
}

/** Adds order c as the last stop of route v if the route can be driven so. */
function append(state: RouteState, c: number, v: number): boolean {
  const { model } = state;
  const end = model.orderCount + model.crewDayCount + v;
  if (model.able[c * model.crewDayCount + v] === 0) return false;
  if (model.linked[c] === 1 && !mayEnter(state, c, v)) return false;
  if (!findStretch(state, c, v) || state.stretchTo !== end) return false;
  state.link(c, state.prev[end]!, v);
  if (refresh(state, v)) return true;
  state.unlink(c);
  refresh(state, v);
  return false;
}
