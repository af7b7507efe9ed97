import { LOG_RATES, POINTS } from './grid.js';
import { expOfMinus } from './normal.js';
import {
  type Pooled,
  type PoolingLayout,
  type PoolingVariances,
  poolOnce,
  ratePrior,
  traitMean,
  traitVariance,
} from './pooling.js';
import { USUAL_LOG_RATE } from './traits.js';

/** Of each line under one growth law: what its own evidence says of its log rate, and what all the others say. */
export interface LawLooks {
  /** Log rate its evidence points at, freed of any prior, and how firmly. */
  look: Float64Array;
  precision: Float64Array;
  /** Prior of its log rate, its own look left out. */
  priorMean: Float64Array;
  priorVariance: Float64Array;
}

/** Before anything is known of a line or its like. */
const USUAL_VARIANCE = 1.2;
export const START_VARIANCES: PoolingVariances = { siteVariance: 0.3, lineVariance: 0.5 };

export function startLooks(lines: number): LawLooks {
  return {
    look: new Float64Array(lines).fill(USUAL_LOG_RATE),
    precision: new Float64Array(lines).fill(LEAST_PRECISION),
    priorMean: new Float64Array(lines).fill(USUAL_LOG_RATE),
    priorVariance: new Float64Array(lines).fill(USUAL_VARIANCE),
  };
}

const LEAST_PRECISION = 1e-4;
const MOST_PRECISION = 1e3;
/** A slow line's likelihood is flat to the left: it pulls by almost nothing, from wherever it is put. */
const FARTHEST = 12;

/**
 * Pools the lines of a base when only some have news: rounds of expectation propagation in which only their looks
 * are taken anew, while every line's prior follows. With news on all lines it is the pooling of `fitBase`.
 *
 * @param looks         Of all lines; changed in place.
 * @param fresh         Lines with news.
 * @param logLikelihood Of each fresh line's evidence at each rate of the grid, row by row.
 * @see Minka (2001), Expectation propagation for approximate Bayesian inference.
 */
export function poolLooks(
  layout: PoolingLayout,
  looks: LawLooks,
  fresh: ArrayLike<number>,
  logLikelihood: (k: number) => { row: Float32Array; at: number },
  start: PoolingVariances,
  rounds: number,
): Pooled {
  const scratch = { weight: new Float64Array(layout.lines), pull: new Float64Array(layout.lines) };
  let variances = start;
  let pooled: Pooled | null = null;
  for (let round = 0; round < rounds; round++) {
    for (let k = 0; k < fresh.length; k++) {
      const { row, at } = logLikelihood(k);
      takeLook(looks, fresh[k]!, row, at);
    }
    pooled = poolOnce(layout, looks.look, looks.precision, variances, scratch);
    spreadPriors(layout, looks, pooled, scratch);
    variances = pooled;
  }
  if (pooled === null) throw new RangeError('No round of pooling');
  return pooled;
}

/** Moments of line i's belief, its prior divided out again. */
function takeLook(looks: LawLooks, i: number, logLikelihood: Float32Array, at: number): void {
  const mean = looks.priorMean[i]!;
  const variance = looks.priorVariance[i]!;
  let top = -Infinity;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - mean;
    const value = logLikelihood[at + g]! - (0.5 * away * away) / variance;
    if (value > top) top = value;
  }
  let sum = 0;
  let first = 0;
  let second = 0;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - mean;
    const log = logLikelihood[at + g]! - (0.5 * away * away) / variance - top;
    if (log < -40) continue;
    const w = expOfMinus(-log);
    sum += w;
    first += w * away;
    second += w * away * away;
  }
  const shift = first / sum;
  const found = { mean: mean + shift, variance: Math.max(1e-3, second / sum - shift * shift) };
  const tau = Math.max(LEAST_PRECISION, Math.min(MOST_PRECISION, 1 / found.variance - 1 / variance));
  const look = (found.mean / found.variance - mean / variance) / tau;
  looks.precision[i] = tau;
  looks.look[i] = Math.max(mean - FARTHEST, Math.min(mean + FARTHEST, look));
}

function spreadPriors(
  layout: PoolingLayout,
  looks: LawLooks,
  pooled: Pooled,
  { weight, pull }: { weight: Float64Array; pull: Float64Array },
): void {
  for (let i = 0; i < layout.lines; i++) {
    const site = layout.siteOf[i]!;
    const prior = ratePrior(
      pooled,
      {
        mean: traitMean(layout, i, pooled.coefficients),
        variance: traitVariance(layout, i, pooled.covariance),
      },
      { weight: pooled.siteWeight[site]!, sum: pooled.siteSum[site]! },
      { weight: weight[i]!, pull: pull[i]! },
    );
    looks.priorMean[i] = prior.mean;
    looks.priorVariance[i] = prior.variance;
  }
}
