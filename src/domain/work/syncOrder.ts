import type { SyncKind } from '../words.js';

/** An item of a sync as far as its place among the others depends on it. */
export interface SyncPlace {
  id: string;
  kind: SyncKind;
  /** By our clock, UTC. */
  at: string;
  workOrderId: string | null;
}

/** Of what happened at one moment, what was said of the way comes first, then a start, and a finish last. */
const RANK: Record<SyncKind, number> = {
  on_the_way: 0,
  running_late: 1,
  start: 2,
  found_line: 3,
  found_access_point: 4,
  found_work: 5,
  price_acceptance: 6,
  inspection: 7,
  clean: 8,
  task_result: 9,
  note: 10,
  attachment: 11,
  danger: 12,
  finish: 13,
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
