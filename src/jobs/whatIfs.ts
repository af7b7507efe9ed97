import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import { Stopped } from '../actions/stopped.js';
import { failWhatIf, workOutWhatIf } from '../actions/whatIf/askWhatIf.js';
import type { Vitals } from './vitals.js';

/** How often a question says how far it is. */
const BEAT_MS = 1_000;
const WATCH_MS = 30_000;
/** One that said nothing for so long has lost its worker. */
const SILENT_MS = 120_000;

export interface WhatIfHouse {
  house: House;
  log: Logger;
  vitals?: Vitals;
}

/** The job `what_if`: works out one question on record. */
export function whatIfJob({ house, log, vitals }: WhatIfHouse) {
  return async (payload: Record<string, unknown>, signal?: AbortSignal): Promise<void> => {
    const whatIfId = String(payload['whatIfId']);
    let share = 0;
    let told: Promise<unknown> = Promise.resolve();
    const tell = () =>
      house.stores.rows
        // The last hundredth belongs to the answer.
        .update('what_if', whatIfId, { progress: Math.min(0.99, share) })
        .catch((error: unknown) => {
          if (vitals) vitals.beatsLost += 1;
          log.warn({ err: error, whatIfId }, 'the progress of a question was not told');
        });
    const beat = setInterval(() => {
      told = told.then(tell);
    }, BEAT_MS);
    const endBeat = async () => {
      clearInterval(beat);
      await told;
    };
    try {
      if (signal?.aborted) throw new Stopped();
      const startedAt = performance.now();
      await workOutWhatIf(
        house,
        whatIfId,
        (progress) => {
          if (signal?.aborted) throw new Stopped();
          share = progress;
        },
        endBeat,
      );
      log.info({ whatIfId, seconds: (performance.now() - startedAt) / 1000 }, 'a question was worked out');
    } catch (error) {
      if (error instanceof Stopped) {
        await endBeat();
        log.info({ whatIfId }, error.message);
        return await handBack(house, whatIfId);
      }
      log.error({ err: error, whatIfId }, 'a question could not be worked out');
      await endBeat();
      await failWhatIf(house, whatIfId, error instanceof Error ? error.message : String(error));
    } finally {
      await endBeat();
    }
  };
}

/** It waits for whoever is free. */
const handBack = (house: House, whatIfId: string): Promise<void> =>
  house.transact({ name: 'what-if' }, async (stores) => {
    await stores.rows.update('what_if', whatIfId, { state: 'waiting', progress: 0 });
    await stores.jobs.add('what_if', { whatIfId }, `what_if:${whatIfId}`);
  });

/** Questions whose worker went away, and those that wait and have no job, are handed to the jobs again. */
export async function takeOverSilentWhatIfs({ house, log }: WhatIfHouse): Promise<void> {
  const open = await house.stores.rows.all('what_if', [
    { column: 'state', is: 'in', value: ['waiting', 'running'] },
  ]);
  const since = Date.now() - SILENT_MS;
  for (const row of open.filter((each) => Date.parse(String(each['updated_at'])) < since)) {
    const whatIfId = String(row['id']);
    const key = `what_if:${whatIfId}`;
    if (row['state'] === 'waiting' && (await house.stores.jobs.isAlive(key))) continue;
    log.warn({ whatIfId, state: row['state'] }, 'a question said nothing for two minutes: asking it again');
    await house.transact({ name: 'what-if' }, (stores) => stores.jobs.add('what_if', { whatIfId }, key));
  }
}

/** Looks for such questions now and then. */
export function watchWhatIfs(asking: WhatIfHouse): { stop: () => void } {
  const timer = setInterval(() => {
    takeOverSilentWhatIfs(asking).catch((error: unknown) =>
      asking.log.warn({ err: error }, 'could not look for silent questions'),
    );
  }, WATCH_MS);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
