import { check } from '../../domain/routing/check.js';
import type { Plan } from '../../domain/routing/plan.js';
import type { RoutingProblem } from '../../domain/routing/problem.js';

const TOLD = 3;

/**
 * Lets no plan through that the independent checker, which shares no code with the search, finds wrong.
 *
 * @throws {Error} With the first faults found.
 */
export function refuseWrongPlan(problem: RoutingProblem, plan: Plan): void {
  const faults = check(problem, plan);
  if (faults.length > 0)
    throw new Error(`the plan does not stand the independent check: ${faults.slice(0, TOLD).join('; ')}`);
}
