import type { TaskKind } from '../words.js';
import { shrunkMean } from './shrunkMean.js';

/** Minutes of a task without the jet's own time. Common practice, no source; the owner's numbers come first. */
export const TASK_MINUTES: Record<TaskKind, number> = {
  survey: 25,
  inspect: 8,
  test_pump: 10,
  hose_flush: 12,
  jet: 12,
  clear_pit: 15,
  clear_outlet: 20,
  replace_outlet: 45,
  cable: 45,
  trace: 45,
  temporary_pump: 40,
  dig_and_replace: 360,
  add_cleanout: 180,
  restore: 180,
  fit_alarm: 45,
  fit_pump: 120,
};
/** To arrive, park, greet, read the notes, and to pack up. Common practice, no source. */
export const ARRIVE_AND_LEAVE_MINUTES = 20;

export interface TaskTime {
  kind: TaskKind;
  /** Minutes the jet runs, for `jet` and `hose_flush`. */
  runMinutes: number;
  /** What this crew takes over what was planned, learned from its attempts; 1 is as planned. */
  factor: number;
}

/** Minutes on a site: once to arrive and leave, then each task at the crew's own pace. */
export const siteMinutes = (tasks: readonly TaskTime[], taskMinutes = TASK_MINUTES): number =>
  tasks.reduce(
    (sum, { kind, runMinutes, factor }) => sum + (taskMinutes[kind] + runMinutes) * factor,
    ARRIVE_AND_LEAVE_MINUTES,
  );

/** Minutes planned and taken of one attempt at a task. */
export interface TimedAttempt {
  plannedMinutes: number;
  takenMinutes: number;
}

/** Spread of log(taken/planned) from attempt to attempt, and between crews. Common practice, no source. */
const ATTEMPT_SPREAD = 0.35;
const CREW_SPREAD = 0.15;
/** An attempt that took a hundred times its plan is a clock left running. */
const LARGEST_LOG = Math.log(5);

/**
 * A crew's factor on the minutes of one kind of task: the geometric mean of its attempts, drawn toward 1 the less
 * there are (normal shrinkage of the logarithm, n τ² / (n τ² + s²)).
 */
export function learnedFactor(attempts: readonly TimedAttempt[]): number {
  const logs = attempts
    .filter(({ plannedMinutes, takenMinutes }) => plannedMinutes > 0 && takenMinutes > 0)
    .map(({ plannedMinutes, takenMinutes }) => Math.log(takenMinutes / plannedMinutes))
    .map((log) => Math.max(-LARGEST_LOG, Math.min(LARGEST_LOG, log)));
  if (logs.length === 0) return 1;
  const mean = logs.reduce((sum, log) => sum + log, 0) / logs.length;
  const own = { count: logs.length, mean, sd: ATTEMPT_SPREAD };
  return Math.exp(shrunkMean(own, { mean: 0, sd: CREW_SPREAD }).mean);
}
