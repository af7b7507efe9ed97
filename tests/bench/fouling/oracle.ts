import { Random } from '../../../src/domain/routing/random.js';
import { crossingDays, HORIZON_DAYS } from './growth.js';
import type { Scored } from './score.js';
import type { SimulatedBase } from './simulatedBase.js';

/** Futures per line: the 6th, 30th and 54th of them are its quantiles. Drawn, not exact, they cost a fiftieth more. */
const FUTURES = 59;
/** Fraction of the bore a line grows in one step of a future, in the mean. */
const STEP = 0.003;

/**
 * What one would forecast who knows how the base works and each line's rate and level today, but not the days to come:
 * quantiles of simulated futures. No forecast from a book can have a lesser loss in the mean.
 */
export function knownTruth({ lines, truth, asOfDay }: SimulatedBase, scored: readonly Scored[]): Scored[] {
  const random = new Random(lines.length);
  return lines.map(({ deposit, limit, way }, i): Scored => {
    const futures = Float64Array.from({ length: FUTURES }, () =>
      Math.min(HORIZON_DAYS, crossingDays(deposit, limit, truth, way, asOfDay, STEP, random)),
    ).sort();
    const at = (p: number): number => futures[Math.round(p * (FUTURES + 1)) - 1]!;
    return { ...scored[i]!, quantiles: [at(0.1), at(0.5), at(0.9)] };
  });
}
