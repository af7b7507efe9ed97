import type { TaskKind } from '../../domain/words.js';
import {
  goesInFirst,
  keepsOut,
  type LineStop,
  type LookedTask,
  standingStop,
  stoppedWhere,
} from '../../domain/work/lineStops.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { FieldFault } from '../problems.js';
import { lineHistory } from './lineLadder.js';

/** What stopped in a line and no camera has looked at; null: nothing. */
export async function stopIn(
  stores: Stores,
  lineId: string,
  until = Number.POSITIVE_INFINITY,
): Promise<{ line: Row; stop: LineStop } | null> {
  const line = await stores.rows.get('line', lineId);
  const stop = line && standingStop(await lineHistory(stores, line), until);
  return stop ? { line, stop } : null;
}

/** Why an order may not put anything into some lines yet, as it keeps its reasons. */
export async function stopReasons(
  stores: Stores,
  tasks: readonly LookedTask[],
): Promise<{ code: string; facts: object; text: string }[]> {
  const reasons: Awaited<ReturnType<typeof stopReasons>> = [];
  for (const lineId of new Set(tasks.flatMap((task) => task.lineId ?? []))) {
    const found = await stopIn(stores, lineId);
    if (found === null || !goesInFirst(tasks, lineId, found.stop)) continue;
    const { line, stop } = found;
    reasons.push({
      code: stop.kind,
      facts: { lineId, atM: stop.atM, metAt: new Date(stop.atMs).toISOString() },
      text: `${stopWords(line, stop)}, no camera since: a camera looks in before this work begins`,
    });
  }
  return reasons;
}

const stopWords = (line: Row, stop: LineStop): string =>
  `${String(line['name'])}: stopped ${stop.kind === 'hard_stop' ? 'hard' : 'short'}${stoppedWhere(stop.atM)} on ${new Date(stop.atMs).toISOString().slice(0, 10)}`;

/**
 * Tasks that put something into a stopped line before a camera of the visit's own looked into that line.
 *
 * @param tasks Rows of tasks, in the order of the visit.
 */
export const startStopFaults = (stores: Stores, tasks: readonly Row[], startedAt: string) =>
  stopFaults(stores, tasks, startedAt, (lineId, stop) => goesInFirst(tasks.map(lookedTask), lineId, stop));

/** Work that was done in a line with a hard stop no camera looked at. */
export const endStopFaults = (stores: Stores, done: readonly Row[], endedAt: string) =>
  stopFaults(stores, done, endedAt, (lineId, stop) =>
    done.some(
      (task) =>
        task['line_id'] === lineId && stop.kind === 'hard_stop' && keepsOut(stop, task['kind'] as TaskKind),
    ),
  );

export const lookedTask = (task: Row) => ({
  kind: task['kind'] as TaskKind,
  lineId: task['line_id'] === null ? null : String(task['line_id']),
  plan: task['plan'] as object,
});

async function stopFaults(
  stores: Stores,
  tasks: readonly Row[],
  until: string,
  isKept: (lineId: string, stop: LineStop) => boolean,
): Promise<FieldFault[]> {
  const faults: FieldFault[] = [];
  for (const lineId of new Set(
    tasks.flatMap((task) => (task['line_id'] === null ? [] : [String(task['line_id'])])),
  )) {
    const found = await stopIn(stores, lineId, Date.parse(until));
    if (found === null || !isKept(lineId, found.stop)) continue;
    const { line, stop } = found;
    faults.push({
      pointer: '#/tasks',
      detail: `${stopWords(line, stop)}, and no camera looked in since: a gas line is possible`,
      remedy: `no cutter${stop.kind === 'hard_stop' ? ' and no jet' : ''}: a camera first, into this line (POST /v1/inspections with reading.method camera, or plugged.seenBy camera); a look at the outlet does not do`,
    });
  }
  return faults;
}
