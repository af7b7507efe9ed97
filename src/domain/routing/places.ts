import { bestInsertion, fitsBetween, linksAllow, mayEnter } from './insertion.js';
import type { InsertionCache } from './insertionCache.js';
import type { Model } from './model.js';
import type { Place } from './plan.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';
import { scheduleRoute } from './schedule.js';

/** Most stops in a row that may have to give way. */
const MOST_DISPLACED = 3;

interface Option {
  readonly v: number;
  readonly after: number;
  readonly displaced: readonly number[];
  readonly cost: number;
}

/**
 * The cheapest places for order c, which must be left out at present, among the given crew-days.
 * @param mostDisplaced Most stops in a row that may have to give way; 0: none.
 */
export function placesOn(
  state: RouteState,
  cache: InsertionCache,
  c: number,
  crewDays: readonly number[],
  count: number,
  mostDisplaced = MOST_DISPLACED,
): Place[] {
  const options: Option[] = [];
  let bound = Infinity;
  for (const v of crewDays) {
    const option = bestOption(state, cache, c, v, bound, mostDisplaced);
    if (!option) continue;
    options.push(option);
    // Who asks for one place only need not hear of dearer ones.
    if (count === 1) bound = Math.min(bound, option.cost);
  }
  options.sort((a, b) => a.cost - b.cost || a.v - b.v);
  return options.slice(0, count).map((option) => describe(state, c, option));
}

/** The cheapest option on route v that costs less than `bound`. */
function bestOption(
  state: RouteState,
  cache: InsertionCache,
  c: number,
  v: number,
  bound: number,
  mostDisplaced: number,
): Option | null {
  const { model } = state;
  if (model.able[c * model.crewDayCount + v] === 0) return null;
  // What must come before is not there: that nobody gives way for.
  if (!linksAllow(state, c, v)) return null;
  const cost = state.sharedKit.couldTake(c, v) ? cache.costOn(c, v) : Infinity;
  if (cost < Infinity) return cost < bound ? { v, after: cache.place, displaced: [], cost } : null;
  for (let size = 1; size <= mostDisplaced; size++) {
    const option = bestInsteadOf(state, c, v, size, bound);
    if (option) return option;
  }
  return null;
}

/** The cheapest place on route v when `size` stops in a row give way. */
function bestInsteadOf(state: RouteState, c: number, v: number, size: number, bound: number): Option | null {
  const { model } = state;
  const stops = stopsOf(state, v);
  const kept = predecessorsOf(model, c);
  const costBefore = state.routeCost[v]!;
  let best: Option | null = null;
  for (let at = 0; at + size <= stops.length; at++) {
    const displaced = stops.slice(at, at + size);
    if (!displaced.every((stop) => !kept.has(stop) && mayGiveWay(state, stop, c))) continue;
    const left = displaced.reduce((sum, stop) => sum + model.leaveCost[stop]!, 0);
    const record = Math.min(bound, best?.cost ?? Infinity);
    if (left + costInTheirPlace(state, c, v, displaced) >= record) continue;
    const cost = without(state, v, displaced, () => {
      if (!mayEnter(state, c, v)) return Infinity;
      return bestInsertion(state, c, v) + state.routeCost[v]! - costBefore + left;
    });
    if (cost < Math.min(bound, best?.cost ?? Infinity))
      best = { v, after: state.foundAfter, displaced, cost };
  }
  return best;
}

/** What order c adds to route v where stops in a row now are; `Infinity` when it cannot be there in time. */
function costInTheirPlace(state: RouteState, c: number, v: number, stops: readonly number[]): number {
  const { model, legCost } = state;
  const { locationOf, size, arcCost, placeCost, crewDayCount: V } = model;
  const before = state.prev[stops[0]!]!;
  const after = state.next[stops.at(-1)!]!;
  if (!fitsBetween(state, c, v, before, after)) return Infinity;
  const here = locationOf[c]!;
  const added = arcCost[locationOf[before]! * size + here]! + arcCost[here * size + locationOf[after]!]!;
  const saved = stops.reduce(
    (sum, stop) => sum + legCost[stop]! + placeCost[stop * V + v]!,
    legCost[before]!,
  );
  return added + placeCost[c * V + v]! - saved;
}

function mayGiveWay(state: RouteState, stop: number, c: number): boolean {
  const { model } = state;
  const { unplacedCost, lock, rank = 0 } = model.orders[stop]!;
  if (unplacedCost === null || lock || rank > (model.orders[c]!.rank ?? 0)) return false;
  return model.after[stop]!.every((link) => state.routeOf[link.order] === -1);
}

/** All that must come before order c, however far back. */
function predecessorsOf({ before }: Model, c: number): ReadonlySet<number> {
  const found = new Set<number>();
  const follow = (order: number) => {
    for (const link of before[order]!) {
      if (found.has(link.order)) continue;
      found.add(link.order);
      follow(link.order);
    }
  };
  follow(c);
  return found;
}

function stopsOf(state: RouteState, v: number): number[] {
  const { model, next } = state;
  const stops: number[] = [];
  for (let j = next[model.orderCount + v]!; j < model.orderCount; j = next[j]!) stops.push(j);
  return stops;
}

/** Runs `look` while some stops are out of route v, then puts them back. */
function without<T>(state: RouteState, v: number, stops: readonly number[], look: () => T): T | number {
  const version = state.version[v]!;
  const places = stops.map((stop) => state.prev[stop]!);
  for (const stop of stops) state.unlink(stop);
  const result = refresh(state, v) ? look() : Infinity;
  stops.forEach((stop, at) => {
    state.link(stop, places[at]!, v);
  });
  refresh(state, v);
  state.version[v] = version;
  return result;
}

function describe(state: RouteState, c: number, { v, after, displaced, cost }: Option): Place {
  const { model } = state;
  const crewDay = model.crewDays[v]!;
  const start = without(state, v, displaced, () => {
    state.link(c, after, v);
    refresh(state, v);
    const visit = scheduleRoute(state, v).stops.find(
      (stop) => stop.kind === 'visit' && stop.orderId === model.orders[c]!.id,
    );
    state.unlink(c);
    return visit!.startSeconds;
  });
  return {
    crewDayId: crewDay.id,
    crewId: crewDay.crewId,
    day: crewDay.day,
    afterOrderId: after < model.orderCount ? model.orders[after]!.id : null,
    startSeconds: start,
    displaces: displaced.map((stop) => model.orders[stop]!.id),
    extraCost: cost,
  };
}
