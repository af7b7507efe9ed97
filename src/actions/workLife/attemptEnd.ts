import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { AttemptResult, FlowProven, NotDoneReason } from '../../domain/words.js';
import { type PlannedRun, type SaidRun, wentIn } from '../../domain/work/replacement.js';
import type { TracedRun } from '../../domain/work/tracedRun.js';
import type { Row } from '../ports.js';
import type { WaterGone } from './water.js';

export interface TaskEnd {
  id: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  takenMinutes: number | null;
  /** What a trace found: from where to where to dig, and how deep. */
  found: TracedRun | null;
  /** Whether flow was proven on the task's own line; null: as said of the visit. */
  flowProven: FlowProven | null;
  /** How deep the trench was dug, m. */
  dugToM: number | null;
}

export interface AttemptEnd {
  endedAt: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  /** A refusal is a decision on record: by whom, which risk was told, until when (null: for good). */
  refusal: { by: string; riskTold: string; untilDay: IsoDate | null } | null;
  pumpRestored: { powerOn: boolean; valveOpen: boolean; floatCycled: boolean; lidBack: boolean } | null;
  flowProven: FlowProven | null;
  /** A note in the crew's words; where the water went is `water`. */
  waterWentTo: string | null;
  water: WaterGone | null;
  note: string | null;
  tasks: TaskEnd[];
  /** What went in, by line; empty: nothing was replaced; null: nobody said. */
  replaced: SaidReplaced[] | null;
}

/** A run that a crew says it replaced. */
export interface SaidReplaced extends SaidRun {
  lineId: string;
  slope: number | null;
}

/**
 * What a task's result is where the end does not name it: what was said of it on site, else that of the visit; of one
 * partly done nothing is known, so it is left.
 */
export const resultOf = (
  end: AttemptEnd,
  task: Row,
): { result: AttemptResult; reason: NotDoneReason | null } => {
  const said = end.tasks.find((each) => each.id === task['id']);
  if (said) return said;
  if (task['result'] !== null)
    return {
      result: task['result'] as AttemptResult,
      reason: task['reason'] as NotDoneReason | null,
    };
  return end.result === 'partly'
    ? { result: 'not_done', reason: end.reason ?? 'out_of_time' }
    : { result: end.result, reason: end.reason };
};

/**
 * Whether flow was proven on the line of a task: what was said of the task, else of the visit. A bare no of a visit to
 * several lines is said of none of them.
 */
export function flowOf(end: AttemptEnd, task: Row, tasks: readonly Row[]): FlowProven | null {
  const own = end.tasks.find((each) => each.id === task['id'])?.flowProven ?? null;
  if (own !== null) return own;
  return end.flowProven === 'no' && linesOf(tasks).length > 1 ? null : end.flowProven;
}

/** What went in by one entry of an attempt's end, with what the plan of its dig says where the crew did not. */
export const replacedBy = (said: SaidReplaced, tasks: readonly Row[]) =>
  wentIn(said, (digOf(said.lineId, tasks)?.['plan'] ?? {}) as PlannedRun);

export const digOf = (lineId: string, tasks: readonly Row[]): Row | undefined =>
  tasks.find((task) => task['kind'] === 'dig_and_replace' && task['line_id'] === lineId);

export const linesOf = (tasks: readonly Row[]): string[] => [
  ...new Set(tasks.flatMap(({ line_id: lineId }) => (lineId === null ? [] : [String(lineId)]))),
];

/** Where the water went, in words: the crew's own, else the place, else who took it. */
export const waterWords = ({ waterWentTo, water }: AttemptEnd): string | null =>
  waterWentTo ?? water?.place ?? water?.receiver.replaceAll('_', ' ') ?? null;
