import { randomUUID } from 'node:crypto';
import { createTask, type ScheduledTask } from 'node-cron';
import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import { runNight } from '../actions/night/runNight.js';
import { Refused } from '../actions/problems.js';

export interface NightHouse {
  house: House;
  log: Logger;
}

export interface Night {
  /** Starts a night and answers with its run at once; it works on. */
  start: (businessDay: string, askedBy: string, again: boolean) => Promise<string>;
  /** The bell: tonight's run, unless it is done. */
  ring: () => Promise<void>;
  /** A run whose process was killed is finished by the next one. */
  catchUp: () => Promise<void>;
  /** When nothing runs in this process. */
  idle: () => Promise<void>;
}

const CLAIM_WAIT_MS = 50;

export function makeNight({ house, log }: NightHouse, config: { ROUTE_SECONDS: number }): Night {
  const holder = `${process.pid}-${randomUUID()}`;
  let working: Promise<unknown> = Promise.resolve();

  const begin = (businessDay: string, askedBy: string, again: boolean): Promise<string> => {
    const run = runNight(house, {
      businessDay,
      askedBy,
      again,
      holder,
      routeSeconds: config.ROUTE_SECONDS,
      onLost,
    });
    working = run.then(
      (runId) => log.info({ runId, businessDay }, 'nightly run finished'),
      (error: unknown) => {
        if (error instanceof Refused)
          log.info({ businessDay, problem: error.problem }, 'nightly run not started');
        else log.error({ err: error, businessDay }, 'nightly run failed');
      },
    );
    return run;
  };
  const onLost = (error: unknown, what: string) => log.warn({ err: error }, what);
  /** For callers who wait for nobody's answer: how the run ends is in the log. */
  const beginAlone = async (businessDay: string, askedBy: string): Promise<void> => {
    begin(businessDay, askedBy, false).catch(() => working);
    await working;
  };

  return {
    async start(businessDay, askedBy, again) {
      const run = begin(businessDay, askedBy, again);
      // The claim is one short transaction: the run is on record before the first step is done.
      let refusal: unknown;
      let ended = false;
      run.then(
        () => {
          ended = true;
        },
        (error: unknown) => {
          ended = true;
          refusal = error;
        },
      );
      for (;;) {
        await new Promise((resolve) => setTimeout(resolve, CLAIM_WAIT_MS));
        if (refusal) throw refusal;
        const [row] = await house.stores.rows.all('nightly_run', [
          { column: 'business_day', is: '=', value: businessDay },
        ]);
        if (row && (ended || row['holder'] === holder)) return String(row['id']);
      }
    },
    async ring() {
      await beginAlone(house.zone.dayOf(house.clock.now()), 'clock');
    },
    async catchUp() {
      const [left] = await house.stores.rows.all('nightly_run', [
        { column: 'state', is: '=', value: 'running' },
      ]);
      if (!left) return;
      log.warn(
        { businessDay: left['business_day'] },
        'a nightly run was left unfinished; going on with it when its lease lapses',
      );
      const lapses = Date.parse(String(left['lease_until'])) - Date.now();
      setTimeout(
        () => void beginAlone(String(left['business_day']), 'catch-up'),
        Math.max(0, lapses) + 1000,
      ).unref();
    },
    async idle() {
      await working;
    },
  };
}

/** Rings once a day at the local time; in a missing hour at the first moment after. */
export function ringAt(time: string, zone: string, ring: () => Promise<void>): ScheduledTask {
  const [hours = '2', minutes = '0'] = time.split(':');
  const task = createTask(`${Number(minutes)} ${Number(hours)} * * *`, () => ring(), {
    timezone: zone,
    noOverlap: true,
  });
  void task.start();
  return task;
}
