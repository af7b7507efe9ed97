import type { Plan, SearchProgress, StartRoutes } from '../../domain/routing/plan.js';
import type { RoutingProblem, TravelMatrix } from '../../domain/routing/problem.js';
import type { Point } from '../../domain/work/travel.js';

/** A reason or warning: stable code, its numbers, one sentence for people. */
export interface Said {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}

export interface SearchAsk {
  problem: RoutingProblem;
  seed: number;
  seconds: number;
  /** Search by iterations instead of seconds, where the same question must get the same answer. */
  iterations?: number;
  /** The routes crews already rely on: the answer is never worse than what of them can still be driven. */
  start?: StartRoutes;
}

export interface SearchEars {
  onProgress?: (progress: SearchProgress) => void;
  /** Aborted: the search ends early with the best it has. */
  signal?: AbortSignal;
}

export type RouteSearch = (ask: SearchAsk, ears: SearchEars) => Promise<Plan>;

/**
 * Travel between all pairs, and what is to be known about where it came from.
 *
 * @param days By point a bit for each day it may be visited on; two that share none may be guessed. Absent: all.
 */
export type TravelTable = (
  points: readonly Point[],
  days?: ArrayLike<number>,
) => Promise<{ matrix: TravelMatrix; warnings: readonly Said[] }>;

/** What planning needs from outside the domain. */
export interface PlanTools {
  search: RouteSearch;
  travel: TravelTable;
}
