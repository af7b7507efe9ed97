import { cholesky, choleskyInverse, choleskySolve } from './linearSolve.js';

/** What the pooling knows of the base: lines in a fixed order, sites numbered. */
export interface PoolingLayout {
  lines: number;
  sites: number;
  siteOf: Int32Array;
  /** Traits of line i: `columns` and `values` from `first[i]` to `first[i + 1]`; columns not named are 0. */
  first: Int32Array;
  columns: Int32Array;
  values: Float64Array;
  priorVariance: readonly number[];
  /** Prior mean of the first column's coefficient; that of the others is 0. */
  priorMean: number;
}

/** A mixed model y = x'β + site + line + error of known variance 1/τ, fitted. */
export interface Pooled {
  coefficients: Float64Array;
  /** Row by row. */
  covariance: Float64Array;
  siteVariance: number;
  lineVariance: number;
  /** Sums over the lines of each site: weights, and weight times what the traits leave open. */
  siteWeight: Float64Array;
  siteSum: Float64Array;
}

export interface PoolingVariances {
  siteVariance: number;
  lineVariance: number;
}

/**
 * One round of expectation and maximisation.
 * @param looks     What line i's own readings say of its log rate, freed of any prior.
 * @param precision τ of each look.
 * @param scratch   Filled with each line's weight and with weight times what the traits leave open.
 */
export function poolOnce(
  layout: PoolingLayout,
  looks: Float64Array,
  precision: Float64Array,
  { siteVariance, lineVariance }: PoolingVariances,
  scratch: { weight: Float64Array; pull: Float64Array },
): Pooled {
  const { lines, sites, siteOf, first, columns, values } = layout;
  const size = layout.priorVariance.length;
  const { weight, pull } = scratch;
  const siteWeight = new Float64Array(sites);
  const siteLook = new Float64Array(sites);
  const siteTraits = new Float64Array(sites * size);
  const matrix = new Float64Array(size * size);
  const right = new Float64Array(size);
  for (let d = 0; d < size; d++) matrix[d * size + d] = 1 / layout.priorVariance[d]!;
  right[0] = layout.priorMean / layout.priorVariance[0]!;
  for (let i = 0; i < lines; i++) {
    const w = 1 / (lineVariance + 1 / precision[i]!);
    weight[i] = w;
    const j = siteOf[i]!;
    siteWeight[j] = siteWeight[j]! + w;
    siteLook[j] = siteLook[j]! + w * looks[i]!;
    for (let a = first[i]!; a < first[i + 1]!; a++) {
      const column = columns[a]!;
      const wx = w * values[a]!;
      right[column] = right[column]! + wx * looks[i]!;
      siteTraits[j * size + column] = siteTraits[j * size + column]! + wx;
      for (let b = first[i]!; b < first[i + 1]!; b++) {
        matrix[column * size + columns[b]!] = matrix[column * size + columns[b]!]! + wx * values[b]!;
      }
    }
  }
  const siteShrink = new Float64Array(sites);
  for (let j = 0; j < sites; j++) {
    const c = 1 / (1 / siteVariance + siteWeight[j]!);
    siteShrink[j] = c;
    for (let d = 0; d < size; d++) {
      const cx = c * siteTraits[j * size + d]!;
      if (cx === 0) continue;
      right[d] = right[d]! - cx * siteLook[j]!;
      for (let e = 0; e < size; e++) {
        matrix[d * size + e] = matrix[d * size + e]! - cx * siteTraits[j * size + e]!;
      }
    }
  }
  const lower = cholesky(matrix, size);
  const coefficients = choleskySolve(lower, size, right);
  const siteSum = new Float64Array(sites);
  for (let i = 0; i < lines; i++) {
    const open = weight[i]! * (looks[i]! - traitMean(layout, i, coefficients));
    pull[i] = open;
    siteSum[siteOf[i]!] = siteSum[siteOf[i]!]! + open;
  }
  const next = variances(layout, looks, precision, coefficients, { siteShrink, siteSum, lineVariance });
  return { coefficients, covariance: choleskyInverse(lower, size), ...next, siteWeight, siteSum };
}

/** x'β of line i. */
export function traitMean(layout: PoolingLayout, i: number, coefficients: Float64Array): number {
  let sum = 0;
  for (let a = layout.first[i]!; a < layout.first[i + 1]!; a++) {
    sum += layout.values[a]! * coefficients[layout.columns[a]!]!;
  }
  return sum;
}

/** x' cov(β) x of line i. */
export function traitVariance(layout: PoolingLayout, i: number, covariance: Float64Array): number {
  const size = layout.priorVariance.length;
  let sum = 0;
  for (let a = layout.first[i]!; a < layout.first[i + 1]!; a++) {
    const row = layout.columns[a]! * size;
    for (let b = layout.first[i]!; b < layout.first[i + 1]!; b++) {
      sum += layout.values[a]! * covariance[row + layout.columns[b]!]! * layout.values[b]!;
    }
  }
  return sum;
}

/**
 * Where nothing is known. A gamma prior of shape 1½ keeps a base of three sites from collapsing and lets one of lines that are
 * alike say so.
 * @see Chung, Rabe-Hesketh, Dorie, Gelman & Liu (2013), A nondegenerate penalized likelihood estimator for variance
 * parameters in multilevel models, Psychometrika 78(4), 685–709.
 */
const PRIOR_SITE_VARIANCE = 0.25;
const PRIOR_LINE_VARIANCE = 0.4;
/** Narrower spreads fall between the points of the grid of rates. */
export const LEAST_VARIANCE = 0.005;

function variances(
  layout: PoolingLayout,
  looks: Float64Array,
  precision: Float64Array,
  coefficients: Float64Array,
  at: { siteShrink: Float64Array; siteSum: Float64Array; lineVariance: number },
): PoolingVariances {
  let siteTotal = 0;
  for (let j = 0; j < layout.sites; j++) {
    const c = at.siteShrink[j]!;
    const effect = c * at.siteSum[j]!;
    siteTotal += effect * effect + c;
  }
  let lineTotal = 0;
  for (let i = 0; i < layout.lines; i++) {
    const c = at.siteShrink[layout.siteOf[i]!]!;
    const open = looks[i]! - traitMean(layout, i, coefficients) - c * at.siteSum[layout.siteOf[i]!]!;
    const share = at.lineVariance / (at.lineVariance + 1 / precision[i]!);
    const effect = share * open;
    lineTotal += effect * effect + share * share * c + (1 - share) * at.lineVariance;
  }
  return {
    siteVariance: likeliest(siteTotal, layout.sites, PRIOR_SITE_VARIANCE),
    lineVariance: likeliest(lineTotal, layout.lines, PRIOR_LINE_VARIANCE),
  };
}

/** Variance of `count` normal effects whose squares add to `total`: where −n/2 log v − total/2v + ½ log v − v/2m is greatest. */
function likeliest(total: number, count: number, usual: number): number {
  const free = count - 1;
  return Math.max(LEAST_VARIANCE, (2 * total) / (free + Math.sqrt(free * free + (4 * total) / usual)));
}

/** Belief about a line's log rate before its own readings: normal, from the traits and the other lines of its site. */
export interface RatePrior {
  mean: number;
  variance: number;
}

/**
 * @param own The line's own part in its site's sums; 0 for a line that is not in the fit.
 */
export function ratePrior(
  pooled: Pick<Pooled, 'siteVariance' | 'lineVariance'>,
  trait: { mean: number; variance: number },
  site: { weight: number; sum: number },
  own: { weight: number; pull: number },
): RatePrior {
  const c = 1 / (1 / pooled.siteVariance + Math.max(0, site.weight - own.weight));
  return {
    mean: trait.mean + c * (site.sum - own.pull),
    variance: pooled.lineVariance + c + trait.variance,
  };
}
