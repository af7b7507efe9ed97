import { daysLost, lostVariance } from './cleanLag.js';
import type { LineEvidence } from './evidence.js';
import { type BaseFit, type FittedShape, priorOf } from './fitBase.js';
import { rowToFill } from './freshRow.js';
import { FINE, fromKnots, LOG_RATES, POINTS, type RateGrid, spreadRates } from './grid.js';
import type { GrowthShape } from './growthShape.js';
import { type LineRead, lawOf } from './lineRead.js';
import { expOfMinus } from './normal.js';
import type { RatePrior } from './pooling.js';
import type { ShapeParameters } from './shapeParameters.js';

/** What is believed of a line under one growth law on one day. */
export interface LineBelief {
  shape: GrowthShape;
  parameters: ShapeParameters;
  /** Of each rate; over all laws of a line they add to 1. */
  weight: Float64Array;
  /** The same if the regime changed today. */
  changedWeight: Float64Array;
  /** Days of growth still to be lost since the last clean, and their variance. */
  lag: { days: number; variance: number };
  /** Level at each rate. */
  state: { grid: RateGrid; mean: Float64Array; variance: Float64Array };
}

/** Rates of less belief than this are left out. */
const NEGLIGIBLE = 2e-5;

/**
 * One line in ten lies three times as far from its like: had the prior a normal's thin ends, readings that agree year
 * after year could not talk a line out of what is usual in its soil. The others lie so much nearer that the middle
 * eight tenths are as wide as the normal's.
 *
 * @see Tukey (1960), A survey of sampling from contaminated distributions (share and width from memory).
 */
const FAR = { share: 0.1, times: 3 };
/** Variance of the others, of the whole prior's: 1.2816 deviations of a normal hold as many as of this mixture. */
const OTHERS_VARIANCE = 0.8;
const FAR_OVER_NEAR = FAR.share / FAR.times / (1 - FAR.share);

/** Logarithm of a line's prior at a log rate, but for a constant. */
function logPrior({ mean, variance }: RatePrior, logRate: number): number {
  const away = logRate - mean;
  const far = (0.5 * away * away) / (OTHERS_VARIANCE * variance);
  const wide = far / (FAR.times * FAR.times);
  return Math.log(expOfMinus(far - wide) + FAR_OVER_NEAR) - wide;
}

/** What the line's own readings say, with its prior: what its like and its neighbours say. */
export function lineBelief(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  read: LineRead,
  age = Infinity,
): LineBelief {
  const { logLikelihood } = read;
  const prior = priorOf(fit, fitted, line);
  const weight = rowToFill(POINTS);
  let top = -Infinity;
  for (let g = 0; g < POINTS; g++) {
    const log = logLikelihood[g]! + logPrior(prior, LOG_RATES[g]!);
    weight[g] = log;
    if (log > top) top = log;
  }
  for (let g = 0; g < POINTS; g++) weight[g] = expOfMinus(top - weight[g]!);
  share(weight, fitted.weight);
  const changedWeight = rowToFill(POINTS);
  spreadRates(weight, changedWeight);
  share(changedWeight, fitted.weight);
  return {
    shape: lawOf(fitted.k1, fitted.k2),
    parameters: fitted.parameters,
    weight,
    changedWeight,
    lag: {
      days: daysLost(fitted.parameters.lagDays, age, Infinity),
      variance: lostVariance(fitted.parameters.lagDays, age, Infinity),
    },
    state: levelsOf(read),
  };
}

function levelsOf(read: LineRead): LineBelief['state'] {
  const mean = rowToFill(POINTS);
  const variance = rowToFill(POINTS);
  fromKnots(read.mean, 0, mean);
  fromKnots(read.variance, 0, variance);
  // Where a variance falls steeply the curve through its neighbours may dip below all of them.
  for (let g = 1; g < POINTS; g += 2)
    variance[g] = Math.max(variance[g]!, 0.5 * Math.min(variance[g - 1]!, variance[g + 1]!));
  return { grid: FINE, mean, variance };
}

function share(weight: Float64Array, total: number): void {
  let sum = 0;
  for (let g = 0; g < POINTS; g++) sum += weight[g]!;
  let kept = 0;
  for (let g = 0; g < POINTS; g++) {
    if (weight[g]! < NEGLIGIBLE * sum) weight[g] = 0;
    kept += weight[g]!;
  }
  for (let g = 0; g < POINTS; g++) weight[g] = (weight[g]! * total) / kept;
}
