import { bestInsertion } from './insertion.js';
import type { StartRoutes } from './plan.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';
import { scheduleRoute } from './schedule.js';

/** Starts that shift less than this are nobody's news (common practice, no source). */
export const NEWS_SECONDS = 15 * 60;

/**
 * Puts the orders that stayed on their route back into the sequence people rely on, new ones among them where they
 * are cheapest, wherever the other sequence saves less than the other hours cost (`accepted.otherHourCost`). Orders
 * change no route by this.
 */
export function keepHours(state: RouteState, start: StartRoutes): void {
  const { model } = state;
  for (const { crewDayId, orderIds } of start) {
    const v = model.crewDayIndex.get(crewDayId);
    if (v === undefined || (state.length[v] ?? 0) === 0) continue;
    const old = orderIds
      .flatMap((id) => model.orderIndex.get(id) ?? [])
      .filter((c) => state.routeOf[c] === v);
    if (old.some((c) => (model.orders[c]?.accepted?.otherHourCost ?? 0) > 0)) keepHoursOn(state, v, old);
  }
}

function keepHoursOn(state: RouteState, v: number, old: readonly number[]): void {
  const found = stopsOf(state, v);
  const kept = new Set(old);
  const others = found.filter((c) => !kept.has(c));
  // What hangs together with others, or is held to a sequence, stays where the search has put it.
  if (found.some((c) => state.model.linked[c] === 1 || state.model.ordered[c] === 1)) return;
  if (others.length === 0 && found.every((c, at) => c === old[at])) return;
  const before = worth(state, v);
  empty(state, v);
  if (lay(state, v, old) && insertAll(state, v, others) && worth(state, v) <= before) return;
  empty(state, v);
  lay(state, v, found);
}

/** What the route costs with the hours it changes. */
function worth(state: RouteState, v: number): number {
  const { model } = state;
  let moved = 0;
  for (const stop of scheduleRoute(state, v).stops) {
    if (stop.kind !== 'visit') continue;
    const { accepted } = model.orders[model.orderIndex.get(stop.orderId) ?? -1] ?? {};
    if (accepted?.startSeconds === undefined || model.crewDays[v]?.day !== accepted.day) continue;
    if (Math.abs(stop.startSeconds - accepted.startSeconds) >= NEWS_SECONDS)
      moved += accepted.otherHourCost ?? 0;
  }
  return (state.routeCost[v] ?? 0) + moved;
}

function stopsOf({ model, next }: RouteState, v: number): number[] {
  const stops: number[] = [];
  for (let c = next[model.orderCount + v] ?? -1; c >= 0 && c < model.orderCount; c = next[c] ?? -1)
    stops.push(c);
  return stops;
}

function empty(state: RouteState, v: number): void {
  for (const c of stopsOf(state, v)) state.unlink(c);
  refresh(state, v);
}

function lay(state: RouteState, v: number, stops: readonly number[]): boolean {
  let after = state.model.orderCount + v;
  for (const c of stops) {
    state.link(c, after, v);
    after = c;
  }
  return refresh(state, v);
}

function insertAll(state: RouteState, v: number, stops: readonly number[]): boolean {
  return stops.every((c) => {
    if (bestInsertion(state, c, v) === Infinity) return false;
    state.link(c, state.foundAfter, v);
    return refresh(state, v);
  });
}
