import { EventEmitter } from 'node:events';
import { setTimeout as sleep } from 'node:timers/promises';
import {
  run,
  runMigrations,
  runOnce,
  type TaskList,
  type WorkerEvents,
  Logger as WorkerLogger,
} from 'graphile-worker';
import type { Pool } from 'pg';
import type { Logger } from 'pino';

/** What each kind of job does with its payload. Jobs only wake: truth is in our own rows. */
export type Jobs = Record<
  string,
  /** @param signal The process is told to end: hand the work back and return. */
  (payload: Record<string, unknown>, signal?: AbortSignal) => Promise<void>
>;

const JOBS_AT_ONCE = 2;

/** Jobs under way are told to end, and have so long to hand their work back; then they are released as they are. */
const HAND_BACK_MS = 15_000;

/** A database that says nothing is waited for so long; what it still has locked, the watches of others find. */
const RELEASE_MS = 3_000;

const tasksOf = (jobs: Jobs, signal?: AbortSignal): TaskList =>
  Object.fromEntries(
    Object.entries(jobs).map(([name, job]) => [
      name,
      (payload) => job(payload as Record<string, unknown>, signal),
    ]),
  );

/** The queue's own lines at our levels, an error as ours are logged; its chatter only when somebody debugs. */
const loggerOf = (log: Logger) =>
  new WorkerLogger(() => (level, message, meta) => {
    const name = String(level);
    // Its text repeats that of the error.
    if (name === 'error' && meta?.['error'] instanceof Error)
      log.error({ err: meta['error'] }, 'a job failed');
    else if (name === 'error') log.error(message);
    else if (name === 'warning') log.warn(message);
    else log.debug(message);
  });

/** The queue's tables, in the same database. */
export const migrateJobs = (pool: Pool, log: Logger): Promise<void> =>
  runMigrations({ pgPool: pool, logger: loggerOf(log) });

export interface Worker {
  /** Tells the jobs under way to hand their work back, and waits for them some seconds; without a database as well. */
  stop(): Promise<void>;
}

/** Works on jobs until stopped. */
export async function startWorker(
  pool: Pool,
  jobs: Jobs,
  log: Logger,
  atOnce = JOBS_AT_ONCE,
  handBackMs = HAND_BACK_MS,
): Promise<Worker> {
  const stopping = new AbortController();
  const events = new EventEmitter() as WorkerEvents;
  const ids: string[] = [];
  events.on('pool:create', ({ workerPool }) => ids.push(workerPool.id));
  const runner = await run({
    pgPool: pool,
    events,
    taskList: tasksOf(jobs, stopping.signal),
    noHandleSignals: true,
    logger: loggerOf(log),
    // Its own patience is longer than ours: what it gives up it leaves locked.
    preset: { worker: { concurrentJobs: atOnce, gracefulShutdownAbortTimeout: 2 * handBackMs } },
  });
  return {
    stop: async () => {
      stopping.abort();
      try {
        if (!(await endsWithin(handBackMs, runner.stop())))
          log.warn({ waitedMs: handBackMs }, 'jobs did not hand their work back: released as they are');
      } catch (error) {
        log.warn({ err: error }, 'the queue did not end in order');
      }
      try {
        if (!(await endsWithin(RELEASE_MS, release(pool, ids))))
          log.warn({ waitedMs: RELEASE_MS }, 'the database is silent: jobs were not released');
      } catch (error) {
        log.warn({ err: error }, 'jobs were not released');
      }
    },
  };
}

/** What these workers still hold is free again; whose place another job took is done with. */
async function release(pool: Pool, workerPools: readonly string[]): Promise<void> {
  const { rows } = await pool.query<{ id: string }>(
    'SELECT id FROM graphile_worker.jobs WHERE key IS NULL AND attempts >= max_attempts AND locked_by = ANY ($1)',
    [workerPools],
  );
  await pool.query('SELECT graphile_worker.force_unlock_workers($1::text[])', [workerPools]);
  await pool.query('SELECT graphile_worker.complete_jobs($1::bigint[])', [rows.map(({ id }) => id)]);
}

async function endsWithin(ms: number, ending: Promise<void>): Promise<boolean> {
  const late = new AbortController();
  try {
    return await Promise.race([
      ending.then(() => true),
      sleep(ms, false, { signal: late.signal }).catch(() => false),
    ]);
  } finally {
    late.abort();
  }
}

/**
 * Nights and plans, and apart from them the owner's questions, one at a time: each of those takes minutes, and no night
 * and no plan waits for one.
 *
 * @returns What ends both.
 */
export async function startLongWork(
  pool: Pool,
  { work, questions }: { work: Jobs; questions: Jobs },
  log: Logger,
): Promise<Worker> {
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
