import { randomUUID } from 'node:crypto';
import { createTask, type ScheduledTask } from 'node-cron';
import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import { askNight } from '../actions/night/askNight.js';
import { LeaseLost, runNight } from '../actions/night/runNight.js';
import type { PlanTools } from '../actions/plans/planTools.js';
import { Refused } from '../actions/problems.js';

/** What the night needs of the open house. */
export interface NightHouse {
  house: House;
  log: Logger;
}

/** The job `night`: works on one business day's run, unless somebody else does. */
export function nightJob({ house, log }: NightHouse, config: { ROUTE_SECONDS: number }, tools?: PlanTools) {
  return async (payload: Record<string, unknown>): Promise<void> => {
    const businessDay = String(payload['businessDay']);
    try {
      const runId = await runNight(house, {
        businessDay,
        askedBy: String(payload['askedBy']),
        holder: `${process.pid}-${randomUUID()}`,
        routeSeconds: config.ROUTE_SECONDS,
        ...(tools ? { tools } : {}),
        onLost: (error, what) => log.warn({ err: error }, what),
      });
      log.info({ runId, businessDay }, 'nightly run finished');
    } catch (error) {
      // Somebody holds a run: its worker ends it, or its lease lapses and the watch asks again.
      if (error instanceof Refused)
        log.info({ businessDay, problem: error.problem }, 'nightly run not started');
      else if (error instanceof LeaseLost) log.warn({ businessDay }, error.message);
      else throw error;
    }
  };
}

async function askQuietly({ house, log }: NightHouse, businessDay: string, askedBy: string): Promise<void> {
  try {
    await askNight(house, { name: askedBy }, { businessDay, askedBy, again: false });
  } catch (error) {
    if (error instanceof Refused) log.info({ businessDay, problem: error.problem }, 'a night is under way');
    else log.error({ err: error, businessDay }, 'the night could not be asked for');
  }
}

/** Rings once a day at the local time, over all instances one run; in a missing hour at the first moment after. */
export function ringAt(time: string, zone: string, night: NightHouse): ScheduledTask {
  const [hours = '2', minutes = '0'] = time.split(':');
  const ring = () => askQuietly(night, night.house.zone.dayOf(night.house.clock.now()), 'clock');
  const task = createTask(`${Number(minutes)} ${Number(hours)} * * *`, ring, {
    timezone: zone,
    noOverlap: true,
  });
  void task.start();
  return task;
}

const WATCH_MS = 15_000;

/** A run whose worker went away is handed to the jobs again. */
export async function takeOverLapsed(night: NightHouse): Promise<void> {
  const [left] = await night.house.stores.night.lapsedRuns();
  if (!left) return;
  night.log.warn({ businessDay: left['business_day'] }, 'a nightly run was left unfinished: taking it over');
  await askQuietly(night, String(left['business_day']), 'catch-up');
}

/** Looks for such runs now and then. */
export function watchLeases(night: NightHouse): { stop: () => void } {
  const timer = setInterval(() => {
    takeOverLapsed(night).catch((error: unknown) =>
      night.log.warn({ err: error }, 'could not look for unfinished nights'),
    );
  }, WATCH_MS);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
