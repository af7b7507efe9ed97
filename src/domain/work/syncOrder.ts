import type { SyncKind } from '../words.js';

/** An item of a sync as far as its place among the others depends on it. */
export interface SyncPlace {
  id: string;
  kind: SyncKind;
  /** By our clock, UTC. */
  at: string;
  workOrderId: string | null;
}

/**
 * Of what happened at one moment, what was said of the way comes first, then what must be there before a start, the
 * start, and a finish last.
 */
const RANK: Record<SyncKind, number> = {
  on_the_way: 0,
  running_late: 1,
  discharge_plan: 2,
  ticket_news: 3,
  trench_check: 4,
  start: 5,
  found_line: 6,
  found_access_point: 7,
  found_work: 8,
  price_acceptance: 9,
  answer: 10,
  inspection: 11,
  clean: 12,
  task_result: 13,
  note: 14,
  attachment: 15,
  incident: 16,
  danger: 17,
  finish: 18,
};

/** Negative: a happened before b. A total order, whatever order they were sent in. */
export function happenedBefore(a: SyncPlace, b: SyncPlace): number {
  const [x, y] = [Date.parse(a.at), Date.parse(b.at)];
  return x - y || RANK[a.kind] - RANK[b.kind] || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0);
}

/**
 * Ids that must be settled before an item is: a visit ends after all that happened in it, and the next visit of the
 * same order begins after the last one ended.
 *
 * @param pending Items not settled, in any order; the item itself may be among them.
 */
export function heldBy(item: SyncPlace, pending: readonly SyncPlace[]): string[] {
  if (item.workOrderId === null || (item.kind !== 'finish' && item.kind !== 'start')) return [];
  return pending
    .filter(
      (other) =>
        other.id !== item.id &&
        other.workOrderId === item.workOrderId &&
        (item.kind === 'finish' || other.kind === 'finish') &&
        happenedBefore(other, item) < 0,
    )
    .map(({ id }) => id);
}
