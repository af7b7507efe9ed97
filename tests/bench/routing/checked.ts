import { check } from '../../../src/domain/routing/check.js';
import type { Plan } from '../../../src/domain/routing/plan.js';
import type { RoutingProblem } from '../../../src/domain/routing/problem.js';
import { type SolveOptions, solve } from '../../../src/domain/routing/solve.js';

/** What a part of the bench is asked for. */
export interface BenchAsk {
  seconds: readonly number[];
  seeds: readonly number[];
  nowMs: () => number;
  /** Only instances whose names hold this. */
  only: string;
}

/** A plan that the independent checker finds sound. @throws {Error} When it does not. */
export function checked(name: string, problem: RoutingProblem, options: SolveOptions): Plan {
  const plan = solve(problem, options);
  const faults = check(problem, plan);
  if (faults.length > 0) throw new Error(`${name}: ${faults.join('; ')}`);
  return plan;
}
