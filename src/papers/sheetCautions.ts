import type { TaskKind } from '../domain/words.js';
import { type Caution, type CautionFacts, cautionsOf } from '../domain/work/cautions.js';
import type { SheetCaution } from './routeSheetData.js';

/** Cautions of a stop as they are printed: each once, with its source. */
export interface StopCautions {
  /** Of the visit: what several tasks share, what the place adds, local codes last. */
  ofVisit: SheetCaution[];
  /** Of each task, in the order given: what no other task of the stop has. */
  ofTasks: SheetCaution[][];
}

const COMMON_PRACTICE = 'common practice, no source';

/** The cautions of a stop's tasks and place, laid out for the route sheet: a task's own stand with the task. */
export function stopCautions(tasks: readonly TaskKind[], facts: CautionFacts): StopCautions {
  const all = cautionsOf(tasks, facts);
  const ownCodes = tasks.map((task) => new Set(cautionsOf([task], {}).map(({ code }) => code)));
  // Local codes belong to every task: they stand with the visit like all that tasks share.
  const isOwn = ({ code }: Caution) =>
    code !== 'local_codes' && ownCodes.filter((codes) => codes.has(code)).length === 1;
  return {
    ofVisit: all.filter((each) => !isOwn(each)).map(printed),
    ofTasks: ownCodes.map((codes) => all.filter((each) => isOwn(each) && codes.has(each.code)).map(printed)),
  };
}

const printed = ({ text, source }: Caution): SheetCaution => ({
  text,
  source: source === COMMON_PRACTICE ? null : source,
});
