import { compile } from './compile.js';
import { InsertionCache } from './insertionCache.js';
import { placesOn } from './places.js';
import type { Place, StartRoutes } from './plan.js';
import type { RoutingProblem } from './problem.js';
import type { Reason } from './reasons.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';
import { layStartRoutes } from './startRoutes.js';
import { reasonFor } from './unplaced.js';

/**
 * Where an order could go in a plan, cheapest first, at most one place per crew-day. Where there is no
 * room, one to three stops in a row give way, and what leaving them out costs is counted.
 *
 * @param routes The plan; the order itself is taken out first if it is in there.
 * @returns The places, and where there is none the reason that a plan would give.
 * @throws {RangeError} When the problem contradicts itself or does not hold the order.
 */
export function cheapestPlaces(
  problem: RoutingProblem,
  routes: StartRoutes,
  orderId: string,
  count: number,
): { places: Place[]; nowhere: Reason | null } {
  const model = compile(problem);
  const c = model.orderIndex.get(orderId);
  if (c === undefined) throw new RangeError(`order ${orderId} is not in the problem`);
  const state = new RouteState(model);
  const alone = new RouteState(model);
  const cache = new InsertionCache(state);
  for (let v = 0; v < model.crewDayCount; v++) {
    refresh(state, v);
    refresh(alone, v);
  }
  const others = routes.map((route) => ({
    ...route,
    orderIds: route.orderIds.filter((id) => id !== orderId),
  }));
  layStartRoutes(state, cache, others, new Set([c]));
  const all = Array.from({ length: model.crewDayCount }, (_, v) => v);
  const places = placesOn(state, cache, c, all, count);
  return { places, nowhere: places.length > 0 ? null : reasonFor(state, cache, alone, c, null) };
}
