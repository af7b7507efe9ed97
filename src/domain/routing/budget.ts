/**
 * Asked now and then during a search: the share of its budget used so far. The search cools down toward 1
 * and ends the first time the answer is 1 or more, so a cancelled search answers 1.
 */
export type Budget = (iteration: number) => number;

/** Asked while the first routes are laid and while the plan is written: there only time and cancelling count. */
export const NO_ITERATION = -1;

/** Ends after `limit` iterations (rounded up to the search's own stride): the same result every time. */
export const afterIterations =
  (limit: number): Budget =>
  (iteration) =>
    iteration === NO_ITERATION ? 0 : limit <= 0 ? 1 : iteration / limit;

/** Ends as `budget` says, or as soon as somebody cancels. */
export const unlessCancelled =
  (budget: Budget, cancelled: () => boolean): Budget =>
  (iteration) =>
    cancelled() ? 1 : budget(iteration);

/** Ends after `seconds` by the given clock (milliseconds, as `performance.now`); counts from this call. */
export function afterSeconds(seconds: number, nowMs: () => number): Budget {
  const startedAtMs = nowMs();
  return () => (seconds <= 0 ? 1 : (nowMs() - startedAtMs) / (seconds * 1000));
}
