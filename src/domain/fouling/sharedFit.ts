import type { LineEvidence } from './evidence.js';
import { KNOTS, LOG_RATES, POINTS } from './grid.js';
import type { GrowthShape } from './growthShape.js';
import { filterLine, filterState, logWeights } from './lineFilter.js';
import { type LineSteps, lineSteps } from './lineSteps.js';
import {
  LEAST_VARIANCE,
  type Pooled,
  type PoolingLayout,
  type PoolingVariances,
  poolOnce,
  ratePrior,
  traitMean,
  traitVariance,
} from './pooling.js';
import type { ShapeParameters } from './shapeParameters.js';
import { type TraitList, traitList, traitsOf, USUAL_LOG_RATE } from './traits.js';
import {
  addVisitTimes,
  type Intervals,
  intervalsOf,
  START_VISIT_TIMES,
  VISIT_MOVES,
  type VisitTimes,
  visitTimesPrior,
} from './visitTimes.js';

/** The lines of a base laid out once for many evaluations. */
export interface LaidBase {
  lines: readonly LineEvidence[];
  siteIds: readonly string[];
  steps: LineSteps;
  intervals: Intervals;
  traits: TraitList;
  layout: PoolingLayout;
}

/** @param lines In the order of their ids. */
export function layBase(lines: readonly LineEvidence[], asOfDay: number): LaidBase {
  const siteIds = [...new Set(lines.map(({ siteId }) => siteId))].sort();
  const siteIndex = new Map(siteIds.map((id, j) => [id, j]));
  const traits = traitList(lines);
  const rows = lines.map((line) => traitsOf(traits, line));
  const first = new Int32Array(lines.length + 1);
  rows.forEach((row, i) => {
    first[i + 1] = first[i]! + row.columns.length;
  });
  return {
    lines,
    siteIds,
    traits,
    steps: lineSteps(lines, asOfDay),
    intervals: intervalsOf(lines, asOfDay),
    layout: {
      lines: lines.length,
      sites: siteIds.length,
      siteOf: Int32Array.from(lines, ({ siteId }) => siteIndex.get(siteId) ?? 0),
      first,
      columns: Int32Array.from(rows.flatMap(({ columns }) => columns)),
      values: Float64Array.from(rows.flatMap(({ values }) => values)),
      priorVariance: traits.priorVariance,
      priorMean: USUAL_LOG_RATE,
    },
  };
}

/** Where pooling stands: each line's prior, and what it comes from. */
export interface PoolState {
  pooled: Pooled | null;
  siteVariance: number;
  lineVariance: number;
  priorMean: Float64Array;
  priorVariance: Float64Array;
  weight: Float64Array;
  pull: Float64Array;
  visitTimes: VisitTimes;
  /** Log likelihood of every line's intervals at each rate, under `visitTimes`. */
  visits: Float64Array;
}

export function startPool(base: LaidBase, visitTimes = START_VISIT_TIMES): PoolState {
  const n = base.lines.length;
  return {
    pooled: null,
    siteVariance: 0.3,
    lineVariance: 0.5,
    priorMean: new Float64Array(n).fill(USUAL_LOG_RATE),
    priorVariance: new Float64Array(n).fill(1.2),
    weight: new Float64Array(n),
    pull: new Float64Array(n),
    visitTimes,
    visits: visitLikelihood(base, visitTimes),
  };
}

/** However alike lines are, one may be apart (no source). */
const LEAST_SPREAD = 0.6;

/** Middle and spread of the log rates that the priors of all lines together expect. */
export function usualRates({ priorMean, priorVariance }: PoolState): {
  usualLogRate: number;
  usualSpread: number;
} {
  const n = priorMean.length;
  const middle = priorMean.reduce((sum, x) => sum + x, 0) / n;
  let variance = 0;
  for (let i = 0; i < n; i++) variance += (priorVariance[i]! + (priorMean[i]! - middle) ** 2) / n;
  return { usualLogRate: middle, usualSpread: Math.max(LEAST_SPREAD, Math.sqrt(variance)) };
}

/** Log likelihood of each line's readings at each rate, row by row, without a prior and without visit times. */
export function readingLikelihood(
  base: LaidBase,
  shape: GrowthShape,
  parameters: ShapeParameters,
): Float64Array {
  const out = new Float64Array(base.lines.length * POINTS);
  const state = filterState(KNOTS);
  const logs = new Float64Array(POINTS);
  for (let i = 0; i < base.lines.length; i++) {
    filterLine(base.steps, i, shape, parameters, state);
    logWeights(state, logs);
    for (let g = 0; g < POINTS; g++) out[i * POINTS + g] = logs[g]! + state.logScale;
  }
  return out;
}

export function visitLikelihood(base: LaidBase, times: VisitTimes): Float64Array {
  const out = new Float64Array(base.lines.length * POINTS);
  for (let i = 0; i < base.lines.length; i++) addVisitTimes(base.intervals, i, times, out, i * POINTS);
  return out;
}

export function withVisits(readings: Float64Array, visits: Float64Array): Float64Array {
  const out = new Float64Array(readings.length);
  for (let i = 0; i < out.length; i++) out[i] = readings[i]! + visits[i]!;
  return out;
}

interface Moments {
  mean: number;
  variance: number;
  logEvidence: number;
}

/** Posterior of line i under its prior. Fills `out`. */
function moments(logLikelihood: Float64Array, i: number, mean: number, variance: number, out: Moments): void {
  const at = i * POINTS;
  let top = -Infinity;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - mean;
    const value = logLikelihood[at + g]! - (0.5 * away * away) / variance;
    if (value > top) top = value;
  }
  let prior = 0;
  let sum = 0;
  let first = 0;
  let second = 0;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - mean;
    const density = (-0.5 * away * away) / variance;
    prior += Math.exp(density);
    const log = logLikelihood[at + g]! + density - top;
    if (log < -40) continue;
    const w = Math.exp(log);
    sum += w;
    first += w * away;
    second += w * away * away;
  }
  const shift = first / sum;
  out.mean = mean + shift;
  out.variance = Math.max(1e-3, second / sum - shift * shift);
  out.logEvidence = top + Math.log(sum / prior);
}

/** Log evidence of the base under the priors of a pooling state. */
export function logEvidence(base: LaidBase, logLikelihood: Float64Array, pool: PoolState): number {
  const found: Moments = { mean: 0, variance: 0, logEvidence: 0 };
  let sum = 0;
  for (let i = 0; i < base.lines.length; i++) {
    moments(logLikelihood, i, pool.priorMean[i]!, pool.priorVariance[i]!, found);
    sum += found.logEvidence;
  }
  return sum;
}

/**
 * One round of pooling: looks from the posteriors, mixed model, new priors that leave each line's own look out.
 * @param leaps How often the variances leap ahead to where their steps are heading.
 */
export function poolRound(
  base: LaidBase,
  logLikelihood: Float64Array,
  before: PoolState,
  leaps = 0,
): PoolState {
  const n = base.lines.length;
  const looks = new Float64Array(n);
  const precision = new Float64Array(n);
  const found: Moments = { mean: 0, variance: 0, logEvidence: 0 };
  for (let i = 0; i < n; i++) {
    const mean = before.priorMean[i]!;
    const variance = before.priorVariance[i]!;
    moments(logLikelihood, i, mean, variance, found);
    const tau = Math.max(1e-4, Math.min(1e3, 1 / found.variance - 1 / variance));
    precision[i] = tau;
    const look = (found.mean / found.variance - mean / variance) / tau;
    // A slow line's likelihood is flat to the left: it pulls by almost nothing, from wherever it is put.
    looks[i] = Math.max(mean - 12, Math.min(mean + 12, look));
  }
  const weight = new Float64Array(n);
  const pull = new Float64Array(n);
  const pool = (from: PoolingVariances): Pooled =>
    poolOnce(base.layout, looks, precision, from, { weight, pull });
  let variances: PoolingVariances = before;
  for (let leap = 0; leap < leaps; leap++) variances = leapt(variances, pool);
  const pooled = pool(variances);
  const priorMean = new Float64Array(n);
  const priorVariance = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const site = base.layout.siteOf[i]!;
    const prior = ratePrior(
      pooled,
      {
        mean: traitMean(base.layout, i, pooled.coefficients),
        variance: traitVariance(base.layout, i, pooled.covariance),
      },
      { weight: pooled.siteWeight[site]!, sum: pooled.siteSum[site]! },
      { weight: weight[i]!, pull: pull[i]! },
    );
    priorMean[i] = prior.mean;
    priorVariance[i] = prior.variance;
  }
  const { siteVariance, lineVariance } = pooled;
  const { visitTimes, visits } = before;
  return { pooled, siteVariance, lineVariance, priorMean, priorVariance, weight, pull, visitTimes, visits };
}

/**
 * Where a line of steps is heading, by Aitken's rule on the logarithms: alone, expectation and maximisation take
 * hundreds of rounds to find that lines are alike.
 */
function leapt(from: PoolingVariances, pool: (from: PoolingVariances) => Pooled): PoolingVariances {
  const once = pool(from);
  const twice = pool(once);
  return {
    siteVariance: heading(from.siteVariance, once.siteVariance, twice.siteVariance),
    lineVariance: heading(from.lineVariance, once.lineVariance, twice.lineVariance),
  };
}

const LONGEST_LEAP = 1.5;
const SLOWEST_STEPS = 0.9;

function heading(from: number, once: number, twice: number): number {
  const first = Math.log(once / from);
  const second = Math.log(twice / once);
  const ratio = Math.max(0, Math.min(SLOWEST_STEPS, second / (first || 1)));
  const leap = Math.max(-LONGEST_LEAP, Math.min(LONGEST_LEAP, first / (1 - ratio)));
  return Math.max(LEAST_VARIANCE, from * Math.exp(leap));
}

const VISIT_STEP = 0.25;

/** Fits the law of visit times to the base, readings and priors held: a parabola along each direction in turn. */
export function fitVisitTimes(
  base: LaidBase,
  readings: Float64Array,
  pool: PoolState,
  rounds: number,
): VisitTimes {
  const score = (times: VisitTimes): number =>
    logEvidence(base, withVisits(readings, visitLikelihood(base, times)), pool) + visitTimesPrior(times);
  let times = pool.visitTimes;
  let best = score(times);
  const accept = (tried: VisitTimes): boolean => {
    const got = score(tried);
    if (got <= best) return false;
    best = got;
    times = tried;
    return true;
  };
  const steps = VISIT_MOVES.map(() => VISIT_STEP);
  for (let round = 0; round < rounds; round++) {
    VISIT_MOVES.forEach((move, c) => {
      const step = steps[c]!;
      const middle = times;
      const here = best;
      const ahead = score(move(middle, step));
      const back = score(move(middle, -step));
      const bend = 2 * here - ahead - back;
      const top = bend > 0 ? (0.5 * step * (ahead - back)) / bend : Math.sign(ahead - back) * 3 * step;
      const by = Math.max(-3 * step, Math.min(3 * step, top));
      if (!accept(move(middle, by)) && Math.max(ahead, back) > best) {
        accept(move(middle, ahead > back ? step : -step));
      }
      steps[c] = Math.max(0.03, Math.min(1.2 * step, Math.max(Math.abs(by), 0.4 * step)));
    });
  }
  return times;
}
