import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { AttemptResult, FlowProven, NotDoneReason } from '../../domain/words.js';
import type { ReplacedRun } from './replaceRun.js';
import type { WaterGone } from './water.js';

export interface TaskEnd {
  id: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  takenMinutes: number | null;
  /** What a trace found: from where to where to dig, and how deep. */
  found: { fromM: number | null; toM: number | null; depthM: number | null } | null;
}

export interface AttemptEnd {
  endedAt: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  /** A refusal is a decision on record: by whom, which risk was told, until when (null: for good). */
  refusal: { by: string; riskTold: string; untilDay: IsoDate | null } | null;
  pumpRestored: { powerOn: boolean; valveOpen: boolean; floatCycled: boolean; lidBack: boolean } | null;
  flowProven: FlowProven | null;
  waterWentTo: string | null;
  water: WaterGone | null;
  note: string | null;
  tasks: TaskEnd[];
  replaced: ReplacedRun[];
}
