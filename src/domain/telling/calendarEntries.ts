import type { CalendarState } from '../words.js';

/** A visit as a calendar shows it. starts and ends: both instants (RFC 3339 UTC), or both days, the end day left out. */
export interface ShownVisit {
  workOrderId: string;
  state: CalendarState;
  starts: string;
  ends: string;
  summary: string;
  description: string;
  location: string | null;
}

export interface CalendarEntry extends ShownVisit {
  /** Grows with every change (RFC 5545, 3.8.7.4). */
  sequence: number;
  changedAt: string;
  createdAt: string;
}

const SHOWN = ['state', 'starts', 'ends', 'summary', 'description', 'location'] as const;

/**
 * What changes in a calendar when it is to show these visits: new ones, others with a higher sequence, and those that
 * have gone, which stay as cancelled. What is past and out of the calendar's sight is left as it is.
 *
 * @param sightFrom Day or instant from which the visits are all there are.
 */
export function changedEntries(
  stored: readonly CalendarEntry[],
  visits: readonly ShownVisit[],
  { sightFrom, now }: { sightFrom: string; now: string },
): CalendarEntry[] {
  const old = new Map(stored.map((entry) => [entry.workOrderId, entry]));
  const shown = new Set(visits.map(({ workOrderId }) => workOrderId));
  const changed: CalendarEntry[] = [];
  for (const visit of visits) {
    const entry = old.get(visit.workOrderId);
    if (!entry) changed.push({ ...visit, sequence: 0, changedAt: now, createdAt: now });
    else if (SHOWN.some((field) => entry[field] !== visit[field]))
      changed.push({ ...entry, ...visit, sequence: entry.sequence + 1, changedAt: now });
  }
  for (const entry of stored) {
    if (shown.has(entry.workOrderId) || entry.state === 'cancelled' || entry.ends < sightFrom) continue;
    changed.push({ ...entry, state: 'cancelled', sequence: entry.sequence + 1, changedAt: now });
  }
  return changed;
}
