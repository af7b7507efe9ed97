import type { House, Stores } from '../house.js';
import type { Actor } from '../ports.js';
import { openRun, refuseWhileRunning } from './runNight.js';

interface Ask {
  businessDay: string;
  askedBy: string;
  again: boolean;
}

/** As `askNightIn`, in a transaction of its own. */
export const askNight = (house: House, actor: Pick<Actor, 'name'>, ask: Ask): ReturnType<typeof askNightIn> =>
  house.transact(actor, (stores) => askNightIn(house, stores, ask));

/**
 * Puts a night on record and hands it to the jobs, in one transaction: whoever is free works on it.
 *
 * @returns The run's id; a day that is done and not asked for again is left as it is, `finished`.
 * @throws {Refused} `run-under-way` while another run is worked on, `rule-broken` for a day that cannot be run.
 */
export async function askNightIn(
  house: House,
  stores: Stores,
  ask: Ask,
): Promise<{ runId: string; finished: boolean }> {
  await refuseWhileRunning(stores);
  const { runId, finished } = await openRun(house, stores, ask);
  if (!finished) {
    const { businessDay, askedBy } = ask;
    await stores.jobs.add('night', { businessDay, askedBy }, `night:${businessDay}`);
  }
  return { runId, finished };
}
