import type { House } from '../house.js';
import type { Actor } from '../ports.js';
import { openRun, refuseWhileRunning } from './runNight.js';

/**
 * Puts a night on record and hands it to the jobs, in one transaction: whoever is free works on it.
 *
 * @returns The run's id; a day that is done and not asked for again is left as it is, `finished`.
 * @throws {Refused} `run-under-way` while another run is worked on, `rule-broken` for a day that cannot be run.
 */
export function askNight(
  house: House,
  actor: Pick<Actor, 'name'>,
  ask: { businessDay: string; askedBy: string; again: boolean },
): Promise<{ runId: string; finished: boolean }> {
  return house.transact(actor, async (stores) => {
    await refuseWhileRunning(stores);
    const { runId, finished } = await openRun(house, stores, ask);
    if (!finished) {
      const { businessDay, askedBy } = ask;
      await stores.jobs.add('night', { businessDay, askedBy }, `night:${businessDay}`);
    }
    return { runId, finished };
  });
}
