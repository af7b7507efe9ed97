import type { LineKind, TaskKind } from '../words.js';
import { careIntervalDays } from './dueDateCandidates.js';
import type { CareTerms, ClosedSeason } from './dueDateInput.js';

/** What keeps a line open; a refusal of any other task leaves its due date alone. */
const CLEANING: readonly TaskKind[] = ['hose_flush', 'jet'];

/**
 * The care terms that hold for a line on a day: of those in force the one that promises most, else the next to begin.
 * @param terms Those that name the line, or its whole site.
 */
export function careTermsFor<T extends CareTerms>(terms: readonly T[], day: number): T | null {
  const open = terms.filter(({ toDay }) => toDay === null || toDay >= day);
  const inForce = open.filter(({ fromDay }) => fromDay <= day);
  if (inForce.length > 0) {
    return inForce.reduce((most, each) =>
      (careIntervalDays(each) ?? Infinity) < (careIntervalDays(most) ?? Infinity) ? each : most,
    );
  }
  return open.reduce<T | null>(
    (next, each) => (next === null || each.fromDay < next.fromDay ? each : next),
    null,
  );
}

/** Whether a decision on a task, or on all (null), keeps the line from being cleaned. */
export function bindsCleaning(task: TaskKind | null): boolean {
  return task === null || CLEANING.includes(task);
}

export interface SeasonTerms extends ClosedSeason {
  tasks: readonly TaskKind[];
  /** Closed to work outside only. */
  outsideOnly: boolean;
  /** Null: for every depot. */
  depotId: string | null;
}

/**
 * The closed seasons in which nobody can clean a line of that kind: all cleaning is closed, at every depot there is. A
 * floor drain is cleaned from inside, so one for work outside leaves it open.
 */
export function seasonsFor(
  kind: LineKind,
  seasons: readonly SeasonTerms[],
  depotIds: readonly string[],
): ClosedSeason[] {
  const everywhere = (depotId: string | null): boolean =>
    depotId === null || (depotIds.length === 1 && depotIds[0] === depotId);
  return seasons
    .filter(
      ({ tasks, outsideOnly, depotId }) =>
        everywhere(depotId) &&
        CLEANING.every((task) => tasks.includes(task)) &&
        !(outsideOnly && kind === 'floor_drain'),
    )
    .map(({ fromDay, toDay, reason }) => ({ fromDay, toDay, reason }));
}
