import { afterIterations, afterSeconds, unlessCancelled } from '../../domain/routing/budget.js';
import { solve } from '../../domain/routing/solve.js';
import { greatCircleTravel } from '../../domain/work/travel.js';
import type { PlanTools } from './planTools.js';

/** Searches in this very thread and measures travel on the great circle: for commands and tests. */
export const plainTools: PlanTools = {
  async search({ problem, seed, seconds, iterations, start }, { onProgress, signal }) {
    const budget =
      iterations === undefined ? afterSeconds(seconds, () => performance.now()) : afterIterations(iterations);
    return solve(problem, {
      seed,
      stop: unlessCancelled(budget, () => signal?.aborted === true),
      ...(start ? { start } : {}),
      ...(onProgress ? { onProgress } : {}),
    });
  },
  async travel(points) {
    return { matrix: greatCircleTravel(points), warnings: [] };
  },
};
