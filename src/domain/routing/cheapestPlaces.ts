import { compile } from './compile.js';
import { InsertionCache } from './insertionCache.js';
import { placesOn } from './places.js';
import type { Place, StartRoutes } from './plan.js';
import type { RoutingProblem } from './problem.js';
import type { Reason } from './reasons.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';
import { layWhatFits } from './startRoutes.js';
import { reasonFor } from './unplaced.js';
import { NEVER } from './windows.js';

/**
 * Where an order could go in a plan, cheapest first, at most one place per crew-day. Where there is no
 * room, one to three stops in a row give way, and what leaving them out costs is counted. A stop of the plan that
 * can no longer be driven where it stands is left out: it takes no room elsewhere.
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
  layWhatFits(state, others);
  const all = Array.from({ length: model.crewDayCount }, (_, v) => v);
  const places = placesOn(state, cache, c, all, count);
  return { places, nowhere: places.length > 0 ? null : reasonFor(state, cache, alone, c) };
}

/** The cheapest place of each order, were it alone to be added to the plan; null: there is none. */
export function cheapestPlaceOfEach(
  problem: RoutingProblem,
  routes: StartRoutes,
  orderIds: readonly string[],
): Map<string, Place | null> {
  const model = compile(problem);
  const state = new RouteState(model);
  const cache = new InsertionCache(state);
  for (let v = 0; v < model.crewDayCount; v++) refresh(state, v);
  layWhatFits(state, routes);
  const all = Array.from({ length: model.crewDayCount }, (_, v) => v);
  return new Map(
    orderIds.map((id) => {
      const c = model.orderIndex.get(id);
      const isAbsent = c !== undefined && state.routeOf[c] === -1;
      return [id, isAbsent ? (placesOn(state, cache, c, all, 1)[0] ?? null) : null];
    }),
  );
}

/**
 * The soonest place of an order whose time is up before any crew can be there: its hours end late on their day.
 * Null: no crew can be there that day at all.
 */
export function soonestPlace(problem: RoutingProblem, routes: StartRoutes, orderId: string): Place | null {
  const orders = problem.orders.map((order) =>
    order.id === orderId
      ? { ...order, windows: order.windows.map((window) => ({ ...window, toSeconds: NEVER })) }
      : order,
  );
  const { places } = cheapestPlaces({ ...problem, orders }, routes, orderId, problem.crewDays.length);
  const [soonest] = places.sort((a, b) => a.day - b.day || a.startSeconds - b.startSeconds);
  return soonest ?? null;
}
