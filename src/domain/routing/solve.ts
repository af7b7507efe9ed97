import { anneal } from './anneal.js';
import type { Budget } from './budget.js';
import { compile } from './compile.js';
import { fill } from './fill.js';
import { InsertionCache } from './insertionCache.js';
import { spareOvertime } from './overtimeBought.js';
import type { Plan, SearchProgress, StartRoutes } from './plan.js';
import type { RoutingProblem } from './problem.js';
import { Random } from './random.js';
import { refresh } from './refresh.js';
import { regretStart } from './regretStart.js';
import { RouteState } from './routeState.js';
import { layStartRoutes } from './startRoutes.js';
import { keepHours } from './steady.js';
import { writePlan } from './writePlan.js';

export interface SolveOptions {
  readonly seed: number;
  /** When to stop; also what the search cools down by. */
  readonly stop: Budget;
  /** A plan to improve: the answer is never worse than what of it can still be driven. */
  readonly start?: StartRoutes;
  readonly onProgress?: (progress: SearchProgress) => void;
}

/**
 * The best plan found within the budget; however short it is, what is left out has been tried everywhere once. The same problem, seed and budget of iterations give the same
 * plan, in whatever order the problem lists its orders and crew-days.
 *
 * @throws {RangeError} When the problem contradicts itself.
 */
export function solve(problem: RoutingProblem, { seed, stop, start, onProgress }: SolveOptions): Plan {
  const model = compile(problem);
  const state = new RouteState(model);
  const cache = new InsertionCache(state);
  for (let v = 0; v < model.crewDayCount; v++) refresh(state, v);
  if (start) layStartRoutes(state, cache, start);
  regretStart(state, cache, stop);
  const iterations = anneal(state, cache, new Random(seed), stop, start !== undefined, onProgress);
  fill(state, cache, stop);
  if (start) keepHours(state, start);
  spareOvertime(state, cache, stop);
  return writePlan(state, cache, iterations, stop);
}
