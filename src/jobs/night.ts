import { randomUUID } from 'node:crypto';
import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import { askNight } from '../actions/night/askNight.js';
import { LeaseLost, runNight } from '../actions/night/runNight.js';
import type { PlanTools } from '../actions/plans/planTools.js';
import { Refused } from '../actions/problems.js';
import { Stopped } from '../actions/stopped.js';
import type { Vitals } from './vitals.js';

/** What the night needs of the open house. */
export interface NightHouse {
  house: House;
  log: Logger;
  vitals?: Vitals;
}

/** The job `night`: works on one business day's run, unless somebody else does. */
export function nightJob(
  { house, log, vitals }: NightHouse,
  config: { ROUTE_SECONDS: number },
  tools?: PlanTools,
) {
  return async (payload: Record<string, unknown>, signal?: AbortSignal): Promise<void> => {
    const businessDay = String(payload['businessDay']);
    try {
      const runId = await runNight(house, {
        businessDay,
        askedBy: String(payload['askedBy']),
        holder: `${process.pid}-${randomUUID()}`,
        routeSeconds: config.ROUTE_SECONDS,
        ...(tools ? { tools } : {}),
        onLost: (error, what) => log.warn({ err: error }, what),
        onFailed: (error, what) => log.error({ err: error }, what),
        onBeatLost: (error) => {
          if (vitals) vitals.beatsLost += 1;
          log.warn({ err: error }, 'a heartbeat of the night was lost; its lease may lapse');
        },
        ...(signal ? { signal } : {}),
      });
      log.info({ runId, businessDay }, 'nightly run finished');
    } catch (error) {
      // Somebody holds a run: its worker ends it, or its lease lapses and the watch asks again.
      if (error instanceof Refused)
        log.info({ businessDay, problem: error.problem }, 'nightly run not started');
      else if (error instanceof LeaseLost) log.warn({ businessDay }, error.message);
      else if (error instanceof Stopped) log.info({ businessDay }, error.message);
      // Seconds later it would fail again: `retryFailed` has its turn.
      else log.error({ err: error, businessDay }, 'a nightly run failed');
    }
  };
}

/** @returns Whether the day's night is on record now; false: ask again in a while. */
async function askQuietly(
  { house, log }: NightHouse,
  businessDay: string,
  askedBy: string,
): Promise<boolean> {
  try {
    await askNight(house, { name: askedBy }, { businessDay, askedBy, again: false });
    return true;
  } catch (error) {
    if (!(error instanceof Refused)) {
      log.error({ err: error, businessDay }, 'the night could not be asked for');
      return false;
    }
    log.info({ businessDay, problem: error.problem }, 'the night was not asked for');
    return error.problem.code !== 'run-under-way';
  }
}

/** How often the clock is looked at. */
const LOOK_MS = 10_000;

/**
 * Asks for the night once the local time of day has come, over all instances one run a day. A time that a clock change
 * skips has come at the first moment after; one that comes twice, the first time. A night that nobody could ask for, as
 * the service was down, is asked for as soon as it is back: today's learns from all that the missed ones would have.
 */
export class Bell {
  private readonly time: string;
  private readonly night: NightHouse;
  /** The business day that it rang for, or found rung for. */
  private rungFor = '';
  /** Day and time at which this process first looked. */
  private began: { day: string; time: string } | null = null;

  /** @param time `HH:MM`, local. */
  constructor(time: string, night: NightHouse) {
    this.time = time;
    this.night = night;
  }

  async look(): Promise<void> {
    const { house } = this.night;
    const now = house.clock.now();
    const [today, time] = [house.zone.dayOf(now), house.zone.timeOf(now)];
    this.began ??= { day: today, time };
    if (this.rungFor === today || time < this.time) return;
    const wasAtWork = this.began.day < today || this.began.time < this.time;
    const last = await house.stores.night.lastDay();
    // A house that never had a night begins with the next one that falls due while it is at work.
    const isDue = last === null ? wasAtWork : last < today;
    const askedBy = wasAtWork ? 'clock' : 'catch-up';
    if (!isDue || (await askQuietly(this.night, today, askedBy))) this.rungFor = today;
  }
}

/** Looks at the clock until stopped. */
export function ringAt(time: string, night: NightHouse): { stop: () => void } {
  const bell = new Bell(time, night);
  return every(LOOK_MS, () => bell.look(), night, 'could not see whether the night is due');
}

/** Lease and watch together keep the promise of a minute. */
const WATCH_MS = 10_000;

/** A run whose worker went away, or that waits and has no job, is handed to the jobs again. */
export async function takeOverLapsed(night: NightHouse): Promise<void> {
  const { house, log } = night;
  const today = house.zone.dayOf(house.clock.now());
  for (const left of await house.stores.night.lapsedRuns(today)) {
    const businessDay = String(left['business_day']);
    if (left['state'] === 'waiting' && (await isPast(house, businessDay))) {
      log.warn({ businessDay }, 'a nightly run waits whose day is past: a later night is done');
      await house.transact({ name: 'night watch' }, (stores) =>
        stores.rows.update('nightly_run', String(left['id']), {
          state: 'failed',
          failed_because: 'it never began, and a later night is done',
        }),
      );
      continue;
    }
    log.warn({ businessDay, state: left['state'] }, 'a nightly run was left unfinished: taking it over');
    await askQuietly(night, businessDay, 'catch-up');
    return;
  }
}

const isPast = async (house: House, day: string): Promise<boolean> =>
  (await house.stores.rows.count('nightly_run', [
    { column: 'state', is: '=', value: 'done' },
    { column: 'business_day', is: '>', value: day },
  ])) > 0;

/** What makes a night fail (a full disk, a database that moved, a lock) often passes within the hour. */
const RETRY_MINUTES = 10;

/** Today's night that failed is tried again every ten minutes until the first crew leaves, by its routes or at 7. */
export async function retryFailed(night: NightHouse): Promise<void> {
  const { house, log } = night;
  const now = house.clock.now();
  const businessDay = house.zone.dayOf(now);
  const leaveAt =
    (await house.stores.night.firstLeave(businessDay)) ??
    house.zone.instantOf(businessDay, USUAL_LEAVE_S).toISOString();
  if (now.toISOString() >= leaveAt) return;
  if (!(await house.stores.night.failedSince(businessDay, RETRY_MINUTES))) return;
  log.warn({ businessDay }, 'the night failed: trying it again');
  await askQuietly(night, businessDay, 'retry');
}

const USUAL_LEAVE_S = 7 * 3600;

/** Looks for such runs now and then. */
export const watchLeases = (night: NightHouse): { stop: () => void } =>
  every(
    WATCH_MS,
    async () => {
      await takeOverLapsed(night);
      await retryFailed(night);
    },
    night,
    'could not look for unfinished nights',
  );

function every(
  ms: number,
  look: () => Promise<void>,
  { log }: NightHouse,
  failed: string,
): { stop: () => void } {
  const timer = setInterval(() => {
    look().catch((error: unknown) => log.warn({ err: error }, failed));
  }, ms);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
