import { earliestEnd, restForward } from './breaks.js';
import { overtimeCostAt } from './overtime.js';
import { needsRefill } from './refresh.js';
import type { RouteState } from './routeState.js';
import { findStretch } from './stretch.js';
import { NEVER, nextOpen } from './windows.js';

/**
 * Cheapest feasible place for order c on route v, counting everything that depends on that route alone.
 * @returns The cost it adds, `Infinity` when there is none; the place is in `state.foundAfter`.
 */
export function bestInsertion(state: RouteState, c: number, v: number): number {
  const { model } = state;
  state.foundAfter = -1;
  if (model.able[c * model.crewDayCount + v] === 0) return Infinity;
  if (wouldRefill(state, c, v))
    return model.refillSites.length === 0 ? Infinity : bestWithRefills(state, c, v);
  return bestWithoutRefills(state, c, v);
}

/** Whether route v has refill stops, or needs them with order c. */
export function wouldRefill(state: RouteState, c: number, v: number): boolean {
  const { waterLitres, wasteLitres } = state.model;
  return state.refilled[v] === 1 || needsRefill(state, v, waterLitres[c]!, wasteLitres[c]!);
}

/** As `bestInsertion` for a crew that never needs to fill or empty its tanks: quick, and about the least it can be. */
export function bestWithoutRefills(state: RouteState, c: number, v: number): number {
  const { model } = state;
  if (model.breakCount[v]! > 0 || model.ordered[c] === 1) return bestLayered(state, c, v);
  return bestPlain(state, c, v);
}

/** What other routes and days say: links to other orders, shared kit in use elsewhere. */
export function mayEnter(state: RouteState, c: number, v: number): boolean {
  return linksAllow(state, c, v) && state.sharedKit.couldTake(c, v);
}

/** Whether all that must come before order c does, if c goes on route v. */
export function linksAllow(state: RouteState, c: number, v: number): boolean {
  const { model } = state;
  for (const link of model.before[c]!) {
    const route = state.routeOf[link.order]!;
    if (route === -1) return false;
    const days = model.calendarOf[v]! - model.calendarOf[route]!;
    if (days < link.minDays || (days === 0 && route !== v)) return false;
  }
  return true;
}

function bestPlain(state: RouteState, c: number, v: number): number {
  const { model, next, ready, latest, legCost } = state;
  const { orderCount: n, crewDayCount: V, dayCount: D, locationOf, size, arcCost, arcSeconds } = model;
  const pair = c * D + model.dayOf[v]!;
  const open = model.opens[pair]!;
  const close = model.closes[pair]!;
  const gapped = model.gapped[pair] === 1;
  const service = model.serviceSeconds[c * V + v]!;
  const priced = model.overtimePerHour[v]! > 0 && model.latestEnd[v]! > model.shiftEnd[v]!;
  const here = locationOf[c]!;
  const row = here * size;
  const end = n + V + v;

  let best = Infinity;
  let bestAfter = -1;
  let i = n + v;
  while (i !== end) {
    const j = next[i]!;
    const arc = locationOf[i]! * size + here;
    const there = row + locationOf[j]!;
    let delta = arcCost[arc]! + arcCost[there]! - legCost[i]!;
    // Overtime only adds, as one more stop never ends the day earlier where a detour never saves time.
    if (delta < best) {
      let time = ready[i]! + arcSeconds[arc]!;
      if (time <= close) {
        if (gapped) time = nextOpen(model.windows, pair, time);
        else if (time < open) time = open;
        time += service + arcSeconds[there]!;
        if (time <= latest[j]!) {
          if (priced) delta += overtimeCostAt(model, v, endFrom(state, v, j, time)) - state.overtimeCost[v]!;
          if (delta < best) {
            best = delta;
            bestAfter = i;
          }
        }
      } else if (ready[i]! > close) {
        break;
      }
    }
    i = j;
  }
  state.foundAfter = bestAfter;
  return best + model.placeCost[c * V + v]!;
}

/** End of a route without breaks when node j is reached at `arrival`. */
function endFrom(state: RouteState, v: number, j: number, arrival: number): number {
  const { model, next, ready } = state;
  const { orderCount: n, crewDayCount: V, dayCount: D, locationOf, size, arcSeconds } = model;
  const end = n + V + v;
  let time = arrival;
  for (let at = j; at !== end; at = next[at]!) {
    const left = nextOpen(model.windows, at * D + model.dayOf[v]!, time) + model.serviceSeconds[at * V + v]!;
    // Waiting has swallowed the delay: the rest runs as before.
    if (left === ready[at]!) return state.endSeconds[v]!;
    time = left + arcSeconds[locationOf[at]! * size + locationOf[next[at]!]!]!;
  }
  return time;
}

/** As `bestPlain` for a crew with breaks, or an order with a place in a sequence. */
function bestLayered(state: RouteState, c: number, v: number): number {
  if (!findStretch(state, c, v)) return Infinity;
  const { model, next, legCost } = state;
  const { locationOf, size, arcCost } = model;
  const priced = model.overtimePerHour[v]! > 0 && model.latestEnd[v]! > model.shiftEnd[v]!;
  const here = locationOf[c]!;
  const to = state.stretchTo;
  let best = Infinity;
  let bestAfter = -1;
  for (let i = state.stretchFrom; i !== to; i = next[i]!) {
    const j = next[i]!;
    let delta = arcCost[locationOf[i]! * size + here]! + arcCost[here * size + locationOf[j]!]! - legCost[i]!;
    if (delta >= best || !fitsBetween(state, c, v, i, j)) continue;
    if (priced) delta += overtimeCostAt(model, v, layeredEndFrom(state, v, j)) - state.overtimeCost[v]!;
    if (delta < best) {
      best = delta;
      bestAfter = i;
    }
  }
  state.foundAfter = bestAfter;
  return best + model.placeCost[c * model.crewDayCount + v]!;
}

/** Whether order c fits between nodes i and j by time; `state.layers` then says when j is reached. */
export function fitsBetween(state: RouteState, c: number, v: number, i: number, j: number): boolean {
  const { model, ready, latest, layers } = state;
  const { nodeCount: N, locationOf, size, arcSeconds } = model;
  const breaks = model.breakCount[v]!;
  const pair = c * model.dayCount + model.dayOf[v]!;
  const service = model.serviceSeconds[c * model.crewDayCount + v]!;
  const here = locationOf[c]!;
  const there = arcSeconds[locationOf[i]! * size + here]!;
  const onward = arcSeconds[here * size + locationOf[j]!]!;

  // Most places fail even when the earliest time meets the most patient bound: breaks only take time.
  let earliest = ready[i]!;
  for (let b = 1; b <= breaks; b++) earliest = Math.min(earliest, ready[b * N + i]!);
  const begin = Math.max(earliest + there, model.opens[pair]!);
  if (begin > model.closes[pair]! || begin + service + onward > latest[breaks * N + j]!) return false;

  for (let b = 0; b <= breaks; b++) layers[b] = Math.min(NEVER, ready[b * N + i]! + there);
  restForward(model, v, layers, 0, 1);
  for (let b = 0; b <= breaks; b++) {
    layers[b] = Math.min(NEVER, nextOpen(model.windows, pair, layers[b]!) + service);
  }
  restForward(model, v, layers, 0, 1, service);
  let fits = false;
  for (let b = 0; b <= breaks; b++) {
    layers[b] = Math.min(NEVER, layers[b]! + onward);
    if (layers[b]! <= latest[b * N + j]!) fits = true;
  }
  return fits;
}

/** End of route v when node j is reached at the times in `layers`. */
function layeredEndFrom(state: RouteState, v: number, j: number): number {
  const { model, next, layers, ahead } = state;
  const { orderCount: n, crewDayCount: V, dayCount: D, locationOf, size, arcSeconds } = model;
  const breaks = model.breakCount[v]!;
  const end = n + V + v;
  for (let b = 0; b <= breaks; b++) ahead[b] = layers[b]!;
  for (let at = j; at !== end; at = next[at]!) {
    const service = model.serviceSeconds[at * V + v]!;
    restForward(model, v, ahead, 0, 1);
    for (let b = 0; b <= breaks; b++) {
      ahead[b] = Math.min(NEVER, nextOpen(model.windows, at * D + model.dayOf[v]!, ahead[b]!) + service);
    }
    restForward(model, v, ahead, 0, 1, service);
    const leg = arcSeconds[locationOf[at]! * size + locationOf[next[at]!]!]!;
    for (let b = 0; b <= breaks; b++) ahead[b] = Math.min(NEVER, ahead[b]! + leg);
  }
  return earliestEnd(model, v, ahead, 0, 1);
}

/** As `bestLayered` for a route with refill stops. */
function bestWithRefills(state: RouteState, c: number, v: number): number {
  if (!findStretch(state, c, v)) return Infinity;
  const cost = state.tourOf(v).evaluateWith(c);
  return cost - state.routeCost[v]!;
}
