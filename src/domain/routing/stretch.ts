import type { Model } from './model.js';
import type { RouteState } from './routeState.js';

/**
 * The stretch of route v where order c may go, as locked sequences and links on the same route say: behind
 * `state.stretchFrom` or a later node, before `state.stretchTo` at the latest.
 * @returns Whether there is any.
 */
export function findStretch(state: RouteState, c: number, v: number): boolean {
  const { model, next } = state;
  const start = model.orderCount + v;
  const end = start + model.crewDayCount;
  state.stretchFrom = start;
  state.stretchTo = end;
  if (model.ordered[c] === 0) return true;
  for (let j = next[start]!; j !== end; j = next[j]!) {
    if (comesAfter(model, c, j)) {
      if (state.stretchTo !== end) return false;
      state.stretchFrom = j;
    }
    if (comesAfter(model, j, c) && state.stretchTo === end) {
      if (state.stretchFrom === j) return false;
      state.stretchTo = j;
    }
  }
  return true;
}

/** Whether `later` may only be visited after `earlier` when both are on one route. */
function comesAfter(model: Model, later: number, earlier: number): boolean {
  const own = model.sequence[later]!;
  const theirs = model.sequence[earlier]!;
  if (own >= 0 && theirs >= 0 && own > theirs) return true;
  for (const link of model.before[later]!) if (link.order === earlier) return true;
  return false;
}
