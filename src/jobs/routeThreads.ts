import { Worker } from 'node:worker_threads';
import type { RouteSearch, SearchAsk } from '../actions/plans/planTools.js';
import type { Plan, SearchProgress } from '../domain/routing/plan.js';
import type { RoutingProblem } from '../domain/routing/problem.js';

export interface ThreadAsk extends SearchAsk {
  /** One cell, shared by all threads of a search: 1 ends it. */
  cancelled: Int32Array;
}

export type ThreadAnswer = { progress: SearchProgress } | { plan: Plan };

/** Seeds of independent starts lie this far apart. */
const SEED_STEP = 7919;

/**
 * Searches in threads of their own, so that the service goes on answering: as many independent starts as there are
 * threads, the cheapest plan is the answer. With a plan to start from every second thread starts from nothing.
 */
export function threadedSearch(threads: number): RouteSearch {
  return async (ask, { onProgress, signal }) => {
    const problem = shared(ask.problem);
    const cancelled = new Int32Array(new SharedArrayBuffer(4));
    const cancel = () => Atomics.store(cancelled, 0, 1);
    if (signal?.aborted) cancel();
    signal?.addEventListener('abort', cancel, { once: true });
    try {
      const plans = await Promise.all(
        Array.from({ length: threads }, (_, thread) =>
          inThread(threadAsk({ ...ask, problem, cancelled }, thread), thread === 0 ? onProgress : undefined),
        ),
      );
      return plans.reduce((best, plan) => (isBetter(ask.problem, plan, best) ? plan : best));
    } finally {
      // One may have died: the others have nobody to answer to.
      cancel();
      signal?.removeEventListener('abort', cancel);
    }
  };
}

function threadAsk(ask: ThreadAsk, thread: number): ThreadAsk {
  const { start, ...rest } = ask;
  const seed = ask.seed + thread * SEED_STEP;
  return start && thread % 2 === 0 ? { ...rest, seed, start } : { ...rest, seed };
}

function inThread(ask: ThreadAsk, onProgress?: (progress: SearchProgress) => void): Promise<Plan> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(new URL('./routeThread.js', import.meta.url), { workerData: ask });
    let plan: Plan | null = null;
    worker.on('message', (answer: ThreadAnswer) => {
      if ('plan' in answer) plan = answer.plan;
      else onProgress?.(answer.progress);
    });
    worker.on('error', reject);
    worker.on('exit', (code) => {
      if (plan) resolve(plan);
      else reject(new Error(`the search ended without a plan (exit code ${code})`));
    });
  });
}

/** Orders that must be placed first, then cost. */
function isBetter(problem: RoutingProblem, a: Plan, b: Plan): boolean {
  const must = new Set(problem.orders.flatMap(({ id, unplacedCost }) => (unplacedCost === null ? [id] : [])));
  const missed = ({ unplaced }: Plan) => unplaced.filter(({ orderId }) => must.has(orderId)).length;
  return missed(a) - missed(b) < 0 || (missed(a) === missed(b) && a.cost.total < b.cost.total);
}

/** The travel matrix once for all threads instead of a copy for each. */
function shared(problem: RoutingProblem): RoutingProblem {
  const { size, seconds, metres } = problem.travel;
  return { ...problem, travel: { size, seconds: inShared(seconds), metres: inShared(metres) } };
}

function inShared(numbers: Int32Array): Int32Array {
  const copy = new Int32Array(new SharedArrayBuffer(numbers.byteLength));
  copy.set(numbers);
  return copy;
}
