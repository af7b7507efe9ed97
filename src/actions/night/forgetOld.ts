import type { OwnerSettings } from '../../domain/work/settings.js';
import type { Stores } from '../house.js';

const DAY_MS = 86_400_000;

/**
 * What need not be remembered is forgotten, each as long as the owner keeps it.
 *
 * @param now The business's time.
 * @returns How many of each.
 */
export async function forgetOld(
  stores: Stores,
  { keeping }: OwnerSettings,
  now: Date,
): Promise<Record<string, number>> {
  await stores.claims.forgetOld();
  return {
    eventsForgotten: await stores.events.forgetOld(keeping.eventDays),
    changesForgotten: await stores.changes.forgetOld(keeping.changeDays),
    syncItemsForgotten: await stores.sync.forgetContents(keeping.syncDays),
    conflictsForgotten: await stores.claims.forgetSettled(keeping.conflictDays),
    plansForgotten: await stores.plans.forgetUntaken(keeping.planDays),
    routesForgotten: await stores.plans.forgetReplaced(keeping.replacedRouteDays),
    whatIfsForgotten: await forgetWhatIfs(stores, new Date(now.getTime() - keeping.whatIfDays * DAY_MS)),
    jobsForgotten: await stores.jobs.forgetDead(),
  };
}

async function forgetWhatIfs(stores: Stores, before: Date): Promise<number> {
  const old = await stores.rows.all('what_if', [
    { column: 'finished_at', is: '<', value: before.toISOString() },
  ]);
  for (const { id } of old) await stores.rows.remove('what_if', String(id));
  return old.length;
}
