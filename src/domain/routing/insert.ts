import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';

/** Puts order c behind `after` on route v, a place found feasible before. */
export function insert(state: RouteState, c: number, after: number, v: number): void {
  state.link(c, after, v);
  refresh(state, v);
}
