import { isoDate } from '../calendar/isoDate.js';
import type { Reason } from './dueDateReason.js';
import type { LineEvidence, RegimeChange } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { LOG_RATES, POINTS } from './grid.js';
import { changedShare, filterState, filterStep, rescale, startState } from './lineFilter.js';
import type { Hindsight } from './lineHindsight.js';
import { lineLikelihood, priorWeight } from './lineLikelihood.js';
import { lawOf } from './lineRead.js';
import { CLEAN, type LineSteps, lineSteps } from './lineSteps.js';

/** A change is told to a person when it is this sure (common practice, no source). */
const TOLD = 0.8;
/** An older change is the line's history by now. */
const LOOKED_BACK_DAYS = 730;
/** Nobody remembers the cause of less: this much faster, or slower by as much (common practice, no source). */
const WORTH_ASKING = 1.5;

/**
 * A change of the line's rate that nobody told of, when what was found since makes it likely. The likelihood of a line
 * is that of a change and of none at each clean, weighted by the hazard: what it would be without gives the first.
 *
 * @param changes Chance of a change at each clean by itself.
 * @returns       Null when no change is likely, it is small or lies far back, or nothing was read since.
 */
export function lineChange(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  asOfDay: number,
  { changes }: Pick<Hindsight, 'changes'>,
): RegimeChange | null {
  const lastReadDay = lastReadingOfACycle(line, asOfDay);
  const recent = changes.filter(({ day }) => day >= asOfDay - LOOKED_BACK_DAYS && day < lastReadDay);
  // All of them together are at most as likely as their sum.
  if (recent.reduce((sum, { chance }) => sum + chance, 0) < TOLD) return null;
  const steps = lineSteps([line], asOfDay);
  const cleans = [...steps.day.keys()].filter(
    (s) => steps.action[s] === CLEAN && steps.day[s]! >= asOfDay - LOOKED_BACK_DAYS,
  );
  const likelihood = lineLikelihood(fit, fitted, line);
  let logNone = likelihood(unchangedAt(steps, cleans)) - likelihood(steps);
  for (const s of cleans) logNone += Math.log1p(-changedShare(steps, s, fitted.parameters));
  const chance = -Math.expm1(logNone);
  if (chance < TOLD) return null;
  const { day } = recent.reduce((a, b) => (b.chance > a.chance ? b : a));
  const before = medianRate(fit, fitted, line, steps, cleans.find((s) => steps.day[s] === day)!);
  const now = medianRate(fit, fitted, line, steps, steps.first[1]!);
  const timesAsFast = now / before;
  if (timesAsFast < WORTH_ASKING && timesAsFast > 1 / WORTH_ASKING) return null;
  return { sinceDay: Math.floor(day), chance, timesAsFast };
}

/** What is read after a clean tells of the clean, not of a rate. */
function lastReadingOfACycle({ events }: LineEvidence, asOfDay: number): number {
  let last = -Infinity;
  for (const event of events) {
    if (event.day > asOfDay) break;
    if (event.kind === 'plugged' || (event.kind === 'reading' && event.phase !== 'after_cleaning'))
      last = event.day;
  }
  return last;
}

/** What the office is told, as a reason of the due date. */
export function changeReason({ sinceDay, chance, timesAsFast }: RegimeChange): Reason {
  const since = isoDate(sinceDay);
  const times = timesAsFast.toFixed(timesAsFast < 0.95 ? 2 : 1);
  return {
    code: 'changed_untold',
    facts: { since, chance, timesAsFast },
    text:
      `Fouls about ${times} times as fast as before since about the clean of ${since} (${Math.floor(100 * chance)} % sure), and nobody told of a change: ` +
      'ask for a new pump, digging, a repair or other water nearby, and record it.',
  };
}

function unchangedAt(steps: LineSteps, cleans: readonly number[]): LineSteps {
  const value = steps.value.slice();
  for (const s of cleans) value[s] = 0;
  return { ...steps, value };
}

/** Middle of the belief by what was found before a step. */
function medianRate(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  steps: LineSteps,
  before: number,
): number {
  const shape = lawOf(fitted.k1, fitted.k2);
  const state = filterState();
  startState(state, steps.startsClean[0] === 1, fitted.parameters);
  for (let s = 0; s < before; s++) {
    filterStep(steps, s, shape, fitted.parameters, state);
    rescale(state);
  }
  const prior = priorWeight(fit, fitted, line);
  const weight = state.weight.map((w, g) => w * prior[g]!);
  const half = weight.reduce((sum, w) => sum + w, 0) / 2;
  let below = 0;
  for (let g = 0; g < POINTS; g++) {
    below += weight[g]!;
    if (below >= half) return Math.exp(LOG_RATES[g]!);
  }
  return Math.exp(LOG_RATES[POINTS - 1]!);
}
