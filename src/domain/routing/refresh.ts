import { earliestEnd, latestEndAfterBreaks, restBackward, restForward } from './breaks.js';
import type { Model } from './model.js';
import { overtimeCostAt } from './overtime.js';
import type { RouteState } from './routeState.js';
import { lastOpen, NEVER, nextOpen } from './windows.js';

/**
 * Recomputes times and cost of route v after its stops changed.
 * @returns Whether the route can be driven; its times mean nothing when not.
 */
export function refresh(state: RouteState, v: number): boolean {
  state.renew(v);
  const { model } = state;
  state.refilled[v] = needsRefill(state, v, 0, 0) ? 1 : 0;
  if (state.length[v] === 0) return refreshEmpty(state, v);
  const fits = model.breakCount[v] === 0 ? refreshPlain(state, v) : refreshLayered(state, v);
  if (fits && state.refilled[v] === 1) return refreshWithRefills(state, v);
  if (fits) {
    state.overtimeCost[v] = overtimeCostAt(model, v, state.endSeconds[v]!);
    state.routeCost[v] = state.routeCost[v]! + state.overtimeCost[v]!;
  }
  return fits;
}

/** Whether route v runs dry or full, with so many litres more. */
export function needsRefill(state: RouteState, v: number, water: number, waste: number): boolean {
  const { model } = state;
  return state.water[v]! + water > model.startWater[v]! || state.waste[v]! + waste > model.startRoom[v]!;
}

function refreshEmpty(state: RouteState, v: number): boolean {
  const { model } = state;
  const start = model.orderCount + v;
  const home = model.emptyLeg[v]!;
  state.refilled[v] = 0;
  state.water[v] = 0;
  state.waste[v] = 0;
  if (model.breakCount[v] === 0) refreshPlain(state, v, false);
  else refreshLayered(state, v, false);
  state.legCost[start] = home;
  // A crew under way drives home in any case, without a break; one that stays home costs nothing.
  const driving = model.crewDays[v]!.underWay !== undefined;
  state.overtimeCost[v] = driving ? overtimeCostAt(model, v, homeSeconds(model, v)) : 0;
  state.routeCost[v] = driving ? home + state.overtimeCost[v]! : 0;
  return true;
}

/** When a crew that goes straight home is there. */
function homeSeconds(model: Model, v: number): number {
  const from = model.locationOf[model.orderCount + v]!;
  const to = model.locationOf[model.orderCount + model.crewDayCount + v]!;
  return model.shiftStart[v]! + model.arcSeconds[from * model.size + to]!;
}

function refreshPlain(state: RouteState, v: number, costs = true): boolean {
  const { model, next, prev, ready, latest, legCost } = state;
  const { orderCount: n, crewDayCount: V, dayCount: D, locationOf, size, arcCost, arcSeconds } = model;
  const { opens, closes, gapped, windows, serviceSeconds, placeCost } = model;
  const day = model.dayOf[v]!;
  const start = n + v;
  const end = n + V + v;

  let cost = 0 - Math.min(0, model.emptyLeg[v]!);
  let time = model.shiftStart[v]!;
  ready[start] = time;
  let at = start;
  let row = locationOf[start]! * size;
  for (let j = next[start]!; j !== end; j = next[j]!) {
    const arc = row + locationOf[j]!;
    const leg = arcCost[arc]!;
    legCost[at] = leg;
    cost += leg + placeCost[j * V + v]!;
    time += arcSeconds[arc]!;
    const pair = j * D + day;
    if (gapped[pair] === 1) time = nextOpen(windows, pair, time);
    else if (time < opens[pair]!) time = opens[pair]!;
    if (time > closes[pair]!) return false;
    time += serviceSeconds[j * V + v]!;
    ready[j] = time;
    at = j;
    row = locationOf[j]! * size;
  }
  const home = row + locationOf[end]!;
  legCost[at] = arcCost[home]!;
  time += arcSeconds[home]!;
  state.endSeconds[v] = time;
  if (costs) {
    state.routeCost[v] = cost + arcCost[home]!;
    if (time > model.latestEnd[v]!) return false;
  }

  let bound = model.latestEnd[v]!;
  latest[end] = bound;
  let to = locationOf[end]!;
  for (let j = prev[end]!; j !== start; j = prev[j]!) {
    const here = locationOf[j]!;
    bound -= arcSeconds[here * size + to]! + serviceSeconds[j * V + v]!;
    const pair = j * D + day;
    if (gapped[pair] === 1) bound = lastOpen(windows, pair, bound);
    else if (bound > closes[pair]!) bound = closes[pair]!;
    latest[j] = bound;
    to = here;
  }
  return true;
}

/** As `refreshPlain`, with a layer of times for every number of breaks taken. */
function refreshLayered(state: RouteState, v: number, costs = true): boolean {
  const { model, next, prev, ready, latest, legCost } = state;
  const { orderCount: n, crewDayCount: V, dayCount: D, locationOf, size, arcCost, arcSeconds } = model;
  const { windows, serviceSeconds, placeCost, nodeCount: N } = model;
  const layers = model.breakCount[v]! + 1;
  const day = model.dayOf[v]!;
  const start = n + v;
  const end = n + V + v;

  let cost = 0 - Math.min(0, model.emptyLeg[v]!);
  for (let b = 0; b < layers; b++) ready[b * N + start] = b === 0 ? model.shiftStart[v]! : NEVER;
  restForward(model, v, ready, start, N);
  let at = start;
  for (let j = next[start]!; ; j = next[j]!) {
    const arc = locationOf[at]! * size + locationOf[j]!;
    legCost[at] = arcCost[arc]!;
    cost += arcCost[arc]!;
    for (let b = 0; b < layers; b++)
      ready[b * N + j] = Math.min(NEVER, ready[b * N + at]! + arcSeconds[arc]!);
    if (j === end) break;
    cost += placeCost[j * V + v]!;
    restForward(model, v, ready, j, N);
    let reachable = false;
    for (let b = 0; b < layers; b++) {
      const begin = nextOpen(windows, j * D + day, ready[b * N + j]!);
      if (begin < NEVER) reachable = true;
      ready[b * N + j] = Math.min(NEVER, begin + serviceSeconds[j * V + v]!);
    }
    if (!reachable) return false;
    restForward(model, v, ready, j, N, serviceSeconds[j * V + v]!);
    at = j;
  }
  state.endSeconds[v] = earliestEnd(model, v, ready, end, N);
  if (costs) {
    state.routeCost[v] = cost;
    if (state.endSeconds[v] === NEVER) return false;
  }

  for (let b = 0; b < layers; b++) latest[b * N + end] = latestEndAfterBreaks(model, v, b);
  let to = end;
  for (let j = prev[end]!; j !== start; j = prev[j]!) {
    const leg = arcSeconds[locationOf[j]! * size + locationOf[to]!]!;
    for (let b = 0; b < layers; b++) latest[b * N + j] = latest[b * N + to]! - leg;
    restBackward(model, v, latest, j, N, serviceSeconds[j * V + v]!);
    for (let b = 0; b < layers; b++) {
      const bound = latest[b * N + j]! - serviceSeconds[j * V + v]!;
      latest[b * N + j] = bound < 0 ? -1 : lastOpen(windows, j * D + day, bound);
    }
    restBackward(model, v, latest, j, N);
    to = j;
  }
  return true;
}

function refreshWithRefills(state: RouteState, v: number): boolean {
  const tour = state.tourOf(v);
  if (tour.cost === Infinity) return false;
  state.routeCost[v] = tour.cost;
  state.overtimeCost[v] = tour.overtimeCost;
  state.endSeconds[v] = tour.endSeconds;
  return true;
}
