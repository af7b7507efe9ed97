import {
  type Runner,
  run,
  runMigrations,
  runOnce,
  type TaskList,
  Logger as WorkerLogger,
} from 'graphile-worker';
import type { Pool } from 'pg';
import type { Logger } from 'pino';

/** What each kind of job does with its payload. Jobs only wake: truth is in our own rows. */
export type Jobs = Record<string, (payload: Record<string, unknown>) => Promise<void>>;

const JOBS_AT_ONCE = 2;

const tasksOf = (jobs: Jobs): TaskList =>
  Object.fromEntries(
    Object.entries(jobs).map(([name, job]) => [name, (payload) => job(payload as Record<string, unknown>)]),
  );

/** The queue's own lines at our levels; its chatter only when somebody debugs. */
const loggerOf = (log: Logger) =>
  new WorkerLogger(() => (level, message) => {
    const name = String(level);
    if (name === 'error') log.error(message);
    else if (name === 'warning') log.warn(message);
    else log.debug(message);
  });

/** The queue's tables, in the same database. */
export const migrateJobs = (pool: Pool, log: Logger): Promise<void> =>
  runMigrations({ pgPool: pool, logger: loggerOf(log) });

/** Works on jobs until stopped; a job under way is finished first. */
export const startWorker = (pool: Pool, jobs: Jobs, log: Logger, atOnce = JOBS_AT_ONCE): Promise<Runner> =>
  run({
    pgPool: pool,
    taskList: tasksOf(jobs),
    concurrency: atOnce,
    noHandleSignals: true,
    logger: loggerOf(log),
  });

/**
 * Nights and plans, and apart from them the owner's questions, one at a time: each of those takes minutes, and no night
 * and no plan waits for one.
 *
 * @returns What ends both, when the jobs under way are finished.
 */
export async function startLongWork(
  pool: Pool,
  { work, questions }: { work: Jobs; questions: Jobs },
  log: Logger,
): Promise<{ stop: () => Promise<void> }> {
  const runners = [await startWorker(pool, work, log)];
  const stop = async () => {
    await Promise.all(runners.map((runner) => runner.stop()));
  };
  try {
    runners.push(await startWorker(pool, questions, log, 1));
  } catch (error) {
    await stop();
    throw error;
  }
  return { stop };
}

/** Works on all jobs that wait now, then returns. */
export const workOnce = (pool: Pool, jobs: Jobs, log: Logger): Promise<void> =>
  runOnce({ pgPool: pool, taskList: tasksOf(jobs), noHandleSignals: true, logger: loggerOf(log) });
