import type { LineEvidence, LineForecast } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS, STEP } from './grid.js';
import { type LineBelief, lineBelief } from './lineBelief.js';
import { lineChange } from './lineChange.js';
import { lineDoubts } from './lineDoubts.js';
import { type Hindsight, lineHindsight } from './lineHindsight.js';
import { levelMoments, levelQuantiles } from './lineLevel.js';
import { linePassages } from './linePassage.js';
import { advance, type LineRead, layLines, readsOf } from './lineRead.js';

export { history, type PastLevel } from './lineHistory.js';

/**
 * What is believed about one line on a day: a line with no reading and one with twenty go through here.
 * Passages, doubts and change are worked out when asked for.
 * @param reads What its readings say under each law of the fit on that day, where that is known.
 */
export function forecastLine(
  fit: BaseFit,
  line: LineEvidence,
  asOfDay: number,
  reads: readonly LineRead[] = readsOf({ ...layLines([line], asOfDay), i: 0 }, fit.shapes, asOfDay),
): LineForecast {
  const cleanDay = reads[0]?.cleanDay ?? -Infinity;
  const beliefs = fit.shapes.map((fitted, law) =>
    lineBelief(fit, fitted, line, reads[law]!, asOfDay - cleanDay),
  );
  const [q10 = 0, q90 = 0] = levelQuantiles(beliefs, [0.1, 0.9]);
  const [best] = fit.shapes;
  let seen: Hindsight | null = null;
  const hindsight = (fitted: FittedShape): Hindsight => {
    seen ??= lineHindsight(fit, fitted, line, asOfDay);
    return seen;
  };
  const odd = (): boolean => mayBeOdd(beliefs[0]!, reads[0]!);
  return {
    asOfDay,
    occlusionNow: { ...levelMoments(beliefs), q10, q90 },
    ratePerDay: rateNow(beliefs),
    readingsUsed: line.events.filter(
      ({ kind, day }) => (kind === 'reading' || kind === 'plugged') && day <= asOfDay,
    ).length,
    get doubts() {
      return best && odd() ? lineDoubts(fit, best, line, asOfDay, hindsight(best).suspects) : [];
    },
    get change() {
      return best && odd() ? lineChange(fit, best, line, asOfDay, hindsight(best)) : null;
    },
    ...linePassages(beliefs, asOfDay),
    curve(daysAhead) {
      const later = beliefs.map(({ shape, parameters, weight, state }) => {
        const moving = {
          grid: state.grid,
          mean: Float64Array.from(state.mean),
          variance: Float64Array.from(state.variance),
        };
        advance(moving, shape, parameters, asOfDay, asOfDay + daysAhead, cleanDay);
        return { weight, state: moving };
      });
      const [low = 0, middle = 0, high = 0] = levelQuantiles(later, [0.1, 0.5, 0.9]);
      return { q10: low, q50: middle, q90: high };
    },
  };
}

/** Where all is this likely to be sound there is nothing to tell: a slip is told when likelier than not, a change surer. */
const SOUND = 0.7;

/** Whether any reading may be a slip, or the rate have changed. */
function mayBeOdd({ weight }: LineBelief, { sound }: LineRead): boolean {
  let total = 0;
  let whole = 0;
  for (let g = 0; g < POINTS; g++) {
    total += weight[g]!;
    whole += weight[g]! * Math.min(sound[g >> 1]!, sound[(g + 1) >> 1]!);
  }
  return !(whole > SOUND * total);
}

function rateWeights(beliefs: readonly LineBelief[]): Float64Array {
  const weight = freshRow(POINTS);
  for (const belief of beliefs) for (let g = 0; g < POINTS; g++) weight[g] = weight[g]! + belief.weight[g]!;
  return weight;
}

function rateNow(beliefs: readonly LineBelief[]): LineForecast['ratePerDay'] {
  const weight = rateWeights(beliefs);
  const at = (p: number): number => {
    let below = 0;
    for (let g = 0; g < POINTS; g++) {
      const share = weight[g]!;
      if (share > 0 && below + share >= p) {
        // Within the point's own cell, straight in the log rate.
        return Math.exp(LOG_RATES[g]! + ((p - below) / share - 0.5) * STEP);
      }
      below += share;
    }
    return Math.exp(LOG_RATES[POINTS - 1]!);
  };
  return { median: at(0.5), q10: at(0.1), q90: at(0.9) };
}
