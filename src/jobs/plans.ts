import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import { failPlan, handOverAgain, searchPlan } from '../actions/plans/askPlan.js';
import type { PlanTools } from '../actions/plans/planTools.js';
import { Stopped } from '../actions/stopped.js';
import type { Vitals } from './vitals.js';

/** How often a search looks whether it is still wanted, and says how far it is. */
const BEAT_MS = 1_000;
const WATCH_MS = 30_000;
/** A search that said nothing for so long has lost its worker. */
const SILENT_MS = 120_000;

export interface PlanHouse {
  house: House;
  log: Logger;
  tools: PlanTools;
  vitals?: Vitals;
}

/** The job `plan`: searches one plan on record; discarded or ended by a person it stops early. */
export function planJob({ house, log, tools, vitals }: PlanHouse, iterations?: number) {
  return async (payload: Record<string, unknown>, signal?: AbortSignal): Promise<void> => {
    const planId = String(payload['planId']);
    const stopping = new AbortController();
    let share = 0;
    const beat = setInterval(() => {
      beatOnce(house, planId, share, stopping).catch((error: unknown) => {
        if (vitals) vitals.beatsLost += 1;
        log.warn({ err: error, planId }, 'the progress of a plan was not told');
      });
    }, BEAT_MS);
    try {
      const startedAt = performance.now();
      const search = searchPlan(
        house,
        tools,
        planId,
        { onProgress: (progress) => (share = progress.share), signal: stopping.signal },
        iterations,
        signal,
      );
      signal?.addEventListener('abort', () => stopping.abort(), { once: true });
      await search;
      log.info({ planId, seconds: (performance.now() - startedAt) / 1000 }, 'plan searched');
    } catch (error) {
      if (error instanceof Stopped) {
        log.info({ planId }, error.message);
        return await handOverAgain(house, planId);
      }
      log.error({ err: error, planId }, 'a plan could not be searched');
      await failPlan(house, planId, error instanceof Error ? error.message : String(error));
    } finally {
      clearInterval(beat);
    }
  };
}

async function beatOnce(
  house: House,
  planId: string,
  share: number,
  stopping: AbortController,
): Promise<void> {
  const row = await house.stores.rows.get('plan', planId);
  if (row?.['state'] !== 'searching' || Number(row['search_seconds']) === 0) stopping.abort();
  // The last hundredth belongs to the proposal.
  else await house.stores.rows.update('plan', planId, { progress: Math.min(0.99, share) });
}

/** Searches whose worker went away are handed to the jobs again. */
async function takeOverSilent({ house, log }: Omit<PlanHouse, 'tools'>): Promise<void> {
  const searching = await house.stores.rows.all('plan', [{ column: 'state', is: '=', value: 'searching' }]);
  const since = Date.now() - SILENT_MS;
  for (const row of searching.filter((each) => Date.parse(String(each['updated_at'])) < since)) {
    const planId = String(row['id']);
    log.warn({ planId }, 'a search said nothing for two minutes: asking for it again');
    await handOverAgain(house, planId);
  }
}

/** Looks for such searches now and then. */
export function watchSearches(planning: Omit<PlanHouse, 'tools'>): { stop: () => void } {
  const timer = setInterval(() => {
    takeOverSilent(planning).catch((error: unknown) =>
      planning.log.warn({ err: error }, 'could not look for silent searches'),
    );
  }, WATCH_MS);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
