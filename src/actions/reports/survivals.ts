import {
  kaplanMeier,
  medianDays,
  type SurvivalStep,
  type Watched,
} from '../../domain/statistics/kaplanMeier.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { inPeriod, type LinesAsked } from './lineFilter.js';
import type { Grouping } from './reportStore.js';

export interface SurvivalOfGroup {
  name: string;
  /** Stretches between cleans that were watched. */
  stretches: number;
  events: number;
  medianDays: number | null;
  untilDays: number;
  /** Last day on which ten were watched: beyond it a single line moves the curve by a tenth and more. */
  tenUntilDays: number;
  steps: SurvivalStep[];
  /** Days at which stretches ended without the event, and how many did on each. */
  left: { days: number; count: number }[];
}

/** Before all records: lines given up because they were bad belong in the curves. */
const BEGINNING = '0001-01-01';

/**
 * How long lines stay under a limit after a clean, Kaplan-Meier by group, largest group first. A clean ends the watch
 * without the event; a crossing counts from the visit that found it, so the curves lie to the right of the truth by
 * up to an interval.
 */
export async function survivals(
  { stores, zone }: House,
  asked: LinesAsked,
  limit: 'action' | 'plug',
  by: Grouping,
): Promise<{ lines: number; groups: SurvivalOfGroup[] }> {
  const { firstIntervals } = await ownerSettings(stores);
  const ever = inPeriod(asked, { fromDay: BEGINNING });
  const rows = await stores.reports.stretches({
    asked: ever,
    limit,
    by,
    ironLimit: firstIntervals.ochreIronMgL,
    zone: zone.name,
  });
  const groups = new Map<string, Required<Watched>[]>();
  for (const row of rows) {
    const name = String(row['name']);
    const watched = { days: Number(row['days']), event: row['event'] === true, count: Number(row['count']) };
    groups.set(name, [...(groups.get(name) ?? []), watched]);
  }
  return {
    lines: await stores.reports.count(ever),
    groups: [...groups]
      .map(([name, watched]) => ofGroup(name, watched))
      .sort((a, b) => b.stretches - a.stretches || (a.name < b.name ? -1 : 1)),
  };
}

function ofGroup(name: string, watched: readonly Required<Watched>[]): SurvivalOfGroup {
  const count = (some: readonly Required<Watched>[]) => some.reduce((sum, each) => sum + each.count, 0);
  const steps = kaplanMeier(watched);
  return {
    name,
    stretches: count(watched),
    events: count(watched.filter(({ event }) => event)),
    medianDays: medianDays(steps),
    untilDays: Math.max(...watched.map(({ days }) => days)),
    tenUntilDays: tenUntil(watched),
    steps,
    left: watched.filter(({ event }) => !event).map(({ days, count }) => ({ days, count })),
  };
}

function tenUntil(watched: readonly Required<Watched>[]): number {
  let still = 0;
  for (const { days, count } of [...watched].sort((a, b) => b.days - a.days)) {
    still += count;
    if (still >= 10) return days;
  }
  return 0;
}
