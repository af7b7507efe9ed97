import { type Budget, NO_ITERATION } from './budget.js';
import type { InsertionCache } from './insertionCache.js';
import type { OvertimeBought } from './plan.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';
import { scheduleRoute } from './schedule.js';

/** Up to these shares of the search's time overtime is looked at. */
const SPARED_BY = 1.1;
const TOLD_BY = 1.2;

/** A crew-day gone without its overtime: what left it, and what that costs more than it saves. */
interface Without {
  /** Orders that leave it, with the crew-day each goes to, -1 when left out. */
  moves: { c: number; to: number }[];
  /** Driving, waiting, moves and orders left out, less the overtime and driving saved. */
  extraCost: number;
}

/**
 * Takes back overtime that buys too little: where an order of the route has a place elsewhere without overtime, and
 * going there costs less than `costs.overtimeGain` asks for. Calls stay, and what others hang on.
 */
export function spareOvertime(state: RouteState, cache: InsertionCache, budget: Budget): void {
  const { model } = state;
  const gain = model.problem.costs.overtimeGain ?? 1;
  for (let v = 0; v < model.crewDayCount; v++) {
    const overtime = state.overtimeCost[v]!;
    if (overtime === 0 || state.length[v] === 0) continue;
    if (budget(NO_ITERATION) >= SPARED_BY) return;
    const before = stopsOf(state, v);
    const { moves, extraCost } = goWithout(state, cache, v);
    const keeps = moves.some(({ c, to }) => to === -1 || (model.orders[c]!.rank ?? 0) > 0);
    if (moves.length === 0 || keeps || extraCost > (gain - 1) * overtime) takeBack(state, v, before, moves);
  }
}

/** Of each route with overtime what it would be without: the cheapest way found, orders moved one after the other. */
export function overtimeBought(state: RouteState, cache: InsertionCache, budget: Budget): OvertimeBought[] {
  const { model } = state;
  const bought: OvertimeBought[] = [];
  for (let v = 0; v < model.crewDayCount; v++) {
    const overtimeCost = state.overtimeCost[v]!;
    const overtimeSeconds = state.endSeconds[v]! - model.shiftEnd[v]!;
    if (overtimeSeconds <= 0 || state.length[v] === 0) continue;
    const before = stopsOf(state, v);
    const { moves, extraCost } =
      budget(NO_ITERATION) < TOLD_BY ? goWithout(state, cache, v) : { moves: [], extraCost: 0 };
    bought.push({
      crewDayId: model.crewDays[v]!.id,
      overtimeSeconds,
      overtimeCost,
      without: moves.map(({ c, to }) => ({ orderId: model.orders[c]!.id, place: placeOf(state, c, to) })),
      extraCost: moves.length === 0 ? null : extraCost,
    });
    takeBack(state, v, before, moves);
  }
  return bought;
}

function placeOf(state: RouteState, c: number, v: number): OvertimeBought['without'][number]['place'] {
  if (v === -1) return null;
  const { id, crewId, day } = state.model.crewDays[v]!;
  const orderId = state.model.orders[c]!.id;
  const stop = scheduleRoute(state, v).stops.find(
    (each) => each.kind === 'visit' && each.orderId === orderId,
  );
  return { crewDayId: id, crewId, day, startSeconds: stop?.startSeconds ?? 0 };
}

/** Takes orders off route v until it ends in time, the cheapest one that suffices, else the longest first. */
function goWithout(state: RouteState, cache: InsertionCache, v: number): Without {
  const moves: Without['moves'] = [];
  let extraCost = 0;
  while (state.overtimeCost[v]! > 0) {
    const chosen = cheapestLeaver(state, cache, v);
    if (chosen === -1) break;
    const before = state.routeCost[v]!;
    state.unlink(chosen);
    refresh(state, v);
    const { to, cost } = goElsewhere(state, cache, chosen, v);
    moves.push({ c: chosen, to });
    extraCost += state.routeCost[v]! - before + cost;
  }
  return { moves, extraCost };
}

/** The order whose leaving ends the overtime for the least, else the one that shortens it most; -1: none may leave. */
function cheapestLeaver(state: RouteState, cache: InsertionCache, v: number): number {
  const { model } = state;
  let chosen = -1;
  let least = Infinity;
  let longest = -1;
  let earliest: number = state.endSeconds[v]!;
  const stops = stopsOf(state, v);
  for (const c of stops) {
    if (model.linked[c] === 1 || model.ordered[c] === 1) continue;
    const before = state.routeCost[v]!;
    const after = state.prev[c]!;
    state.unlink(c);
    const drives = refresh(state, v);
    const saved = before - state.routeCost[v]!;
    const isOver = state.overtimeCost[v]! > 0;
    const end = state.endSeconds[v]!;
    if (drives && !isOver) {
      const { to, cost } = goElsewhere(state, cache, c, v);
      if (cost - saved < least) {
        least = cost - saved;
        chosen = c;
      }
      if (to !== -1) {
        state.unlink(c);
        refresh(state, to);
      }
    } else if (drives && end < earliest) {
      earliest = end;
      longest = c;
    }
    state.link(c, after, v);
    refresh(state, v);
  }
  return chosen === -1 ? longest : chosen;
}

/** Puts order c on the cheapest route where it adds no overtime, or leaves it out where that costs less. */
function goElsewhere(
  state: RouteState,
  cache: InsertionCache,
  c: number,
  from: number,
): { to: number; cost: number } {
  const { model } = state;
  const places: { to: number; cost: number; after: number }[] = [];
  for (let to = 0; to < model.crewDayCount; to++) {
    if (to === from || model.able[c * model.crewDayCount + to] === 0) continue;
    const cost = cache.costOn(c, to);
    if (cost < model.leaveCost[c]!) places.push({ to, cost, after: cache.place });
  }
  places.sort((a, b) => a.cost - b.cost || a.to - b.to);
  for (const { to, cost, after } of places) {
    const overtime = state.overtimeCost[to]!;
    state.link(c, after, to);
    if (refresh(state, to) && state.overtimeCost[to]! <= overtime) return { to, cost };
    state.unlink(c);
    refresh(state, to);
  }
  return { to: -1, cost: model.leaveCost[c]! };
}

function takeBack(
  state: RouteState,
  v: number,
  before: readonly number[],
  moves: readonly { c: number; to: number }[],
): void {
  for (const { c, to } of moves) {
    if (to === -1) continue;
    state.unlink(c);
    refresh(state, to);
  }
  for (const c of stopsOf(state, v)) state.unlink(c);
  let after = state.model.orderCount + v;
  for (const c of before) {
    state.link(c, after, v);
    after = c;
  }
  refresh(state, v);
}

function stopsOf({ model, next }: RouteState, v: number): number[] {
  const stops: number[] = [];
  for (let c = next[model.orderCount + v]!; c < model.orderCount; c = next[c]!) stops.push(c);
  return stops;
}
