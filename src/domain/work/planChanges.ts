import type { IsoDate } from '../calendar/isoDate.js';

/** Where an order stands in a plan. `startsAt` in milliseconds of the epoch. */
export interface Standing {
  workOrderId: string;
  crewId: string;
  day: IsoDate;
  startsAt: number;
}

export type PlanChange =
  | { kind: 'added'; workOrderId: string; to: Standing }
  | { kind: 'dropped'; workOrderId: string; from: Standing }
  | { kind: 'moved_day' | 'moved_crew' | 'moved_time'; workOrderId: string; from: Standing; to: Standing };

/** Starts that shift less than this are nobody's news (common practice, no source). */
const NEWS_MS = 15 * 60_000;

/** What would change for each order if `next` took the place of `now`; an order appears once, by its largest change. */
export function planChanges(now: readonly Standing[], next: readonly Standing[]): PlanChange[] {
  const before = new Map(now.map((each) => [each.workOrderId, each]));
  const after = new Map(next.map((each) => [each.workOrderId, each]));
  const changes: PlanChange[] = [];
  for (const to of next) {
    const { workOrderId } = to;
    const from = before.get(workOrderId);
    if (!from) changes.push({ kind: 'added', workOrderId, to });
    else if (from.day !== to.day) changes.push({ kind: 'moved_day', workOrderId, from, to });
    else if (from.crewId !== to.crewId) changes.push({ kind: 'moved_crew', workOrderId, from, to });
    else if (Math.abs(from.startsAt - to.startsAt) >= NEWS_MS)
      changes.push({ kind: 'moved_time', workOrderId, from, to });
  }
  for (const from of now)
    if (!after.has(from.workOrderId)) changes.push({ kind: 'dropped', workOrderId: from.workOrderId, from });
  return changes;
}
