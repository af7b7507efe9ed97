import type { TaskKind } from '../words.js';

/** A task nobody has done yet, on a pit or a line of the house that called. */
export interface OpenTask {
  id: string;
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
  minutes: number;
  workOrderId: string;
  /** Its order has not begun: the task can go over to the visit of the call. */
  isAhead: boolean;
}

export interface CallTask {
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
}

/** Looked at where another visit under way, or one a caller can wait for, has the first look. */
const INSTEAD = { pit: ['inspect', 'survey'], line: ['survey'] } as const satisfies Record<
  string,
  readonly TaskKind[]
>;

/**
 * What the visit of a call does: every pump tested and every line asked about inspected. A thing has one open task
 * of a kind: what cannot wait takes it from a visit that has not begun, what can wait leaves it there.
 * Common practice, no source.
 *
 * @param lineIds  The discharge, or what the caller's stain may come from.
 * @param isUrgent Somebody goes today.
 * @param hostId   The order the call is added to; null: a new one.
 */
export function callTasks(
  { pitIds, lineIds }: { pitIds: readonly string[]; lineIds: readonly string[] },
  open: readonly OpenTask[],
  { isUrgent, hostId }: { isUrgent: boolean; hostId: string | null },
): { fresh: CallTask[]; taken: OpenTask[] } {
  const fresh: CallTask[] = [];
  const taken: OpenTask[] = [];
  const look = (thing: Omit<CallTask, 'kind'>, first: TaskKind, instead: readonly TaskKind[]) => {
    const own = open.filter(({ lineId, pitId }) => lineId === thing.lineId && pitId === thing.pitId);
    const there = own.find(({ kind }) => kind === first);
    if (!there) fresh.push({ kind: first, ...thing });
    else if (there.workOrderId === hostId) return;
    else if (isUrgent && there.isAhead) taken.push(there);
    else if (hostId === null) {
      const kind = instead.find((each) => !own.some((task) => task.kind === each));
      if (kind) fresh.push({ kind, ...thing });
    }
  };
  for (const pitId of pitIds) look({ pitId, lineId: null }, 'test_pump', INSTEAD.pit);
  for (const lineId of lineIds) look({ lineId, pitId: null }, 'inspect', INSTEAD.line);
  return { fresh, taken };
}
