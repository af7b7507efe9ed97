import type { LineEvidence } from './evidence.js';
import { LOG_RATES, POINTS } from './grid.js';
import {
  columnPrecision,
  ironBySite,
  type PriorModel,
  priorColumns,
  priorOf,
  priorRow,
} from './linePrior.js';

/** Each line's likelihood on the grid of rates, row-major, largest value 1, and the log of what was divided out. */
export interface Likelihoods {
  weight: Float64Array;
  logScale: Float64Array;
}

const ROUNDS = 6;

/**
 * Partial pooling of log rates: line within site, over area, kind, material and iron. Expectation propagation:
 * each line's likelihood becomes a normal pseudo-observation, the mixed model is solved in closed form, variances
 * by EM. Lines must come in the order of their ids.
 *
 * @returns The prior model, and the log evidence of the base under it.
 */
export function poolRates(
  lines: readonly LineEvidence[],
  likelihoods: Likelihoods,
  from?: PriorModel,
  rounds = ROUNDS,
): { model: PriorModel; logEvidence: number } {
  const n = lines.length;
  const columns = from?.columns ?? priorColumns(lines);
  const ironOfSite = ironBySite(lines);
  const p = columns.length;
  const rows = lines.map((line) => priorRow(line, columns, ironOfSite));
  const siteOf = new Int32Array(n);
  const siteIds: string[] = [];
  const siteIndex = new Map<string, number>();
  lines.forEach(({ siteId }, i) => {
    let s = siteIndex.get(siteId);
    if (s === undefined) {
      s = siteIds.length;
      siteIds.push(siteId);
      siteIndex.set(siteId, s);
    }
    siteOf[i] = s;
  });
  let model: PriorModel = from
    ? { ...from, ironOfSite }
    : {
        columns,
        beta: columns.map((column) => columnPrecision(column).mean),
        covariance: new Array<number>(p * p).fill(0),
        lineVariance: 0.5,
        siteVariance: 0.4,
        ironOfSite,
        sites: {},
        lines: {},
      };
  const y = new Float64Array(n);
  const tau = new Float64Array(n);
  let logEvidence = 0;
  for (let round = 0; round < rounds; round++) {
    logEvidence = 0;
    for (let i = 0; i < n; i++) {
      const prior = priorOf(model, lines[i]!);
      const { mean, variance, log } = posteriorMoments(
        likelihoods.weight,
        i * POINTS,
        prior.mean,
        prior.variance,
      );
      logEvidence += log + likelihoods.logScale[i]!;
      const precision = Math.min(1e3, Math.max(1e-4, 1 / variance - 1 / prior.variance));
      tau[i] = precision;
      const centre = (mean / variance - prior.mean / prior.variance) / precision;
      // A likelihood flat to the left pulls by almost nothing; keep its centre on the map.
      y[i] = Math.max(prior.mean - 12, Math.min(prior.mean + 12, centre));
    }
    model = solve(model, lines, rows, siteOf, siteIds, y, tau);
  }
  return { model, logEvidence };
}

/** Mean and variance of grid weights times a normal prior, and the log of their sum. */
export function posteriorMoments(
  weight: Float64Array,
  at: number,
  priorMean: number,
  priorVariance: number,
): { mean: number; variance: number; log: number } {
  let total = 0;
  let first = 0;
  let second = 0;
  let prior = 0;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - priorMean;
    const density = Math.exp((-0.5 * away * away) / priorVariance);
    prior += density;
    const w = weight[at + g]! * density;
    total += w;
    first += w * away;
    second += w * away * away;
  }
  if (!(total > 0)) return { mean: priorMean, variance: priorVariance, log: -50 };
  const shift = first / total;
  return {
    mean: priorMean + shift,
    variance: Math.max(1e-3, second / total - shift * shift),
    log: Math.log(total / prior),
  };
}

function solve(
  before: PriorModel,
  lines: readonly LineEvidence[],
  rows: readonly Float64Array[],
  siteOf: Int32Array,
  siteIds: readonly string[],
  y: Float64Array,
  tau: Float64Array,
): PriorModel {
  const n = lines.length;
  const p = before.columns.length;
  const sites = siteIds.length;
  const { lineVariance, siteVariance } = before;
  const w = tau.map((precision) => 1 / (lineVariance + 1 / precision));
  const weightOfSite = new Float64Array(sites);
  const a = new Float64Array(sites * p);
  const b = new Float64Array(sites);
  const normal = new Float64Array(p * p);
  const right = new Float64Array(p);
  before.columns.forEach((column, j) => {
    const { mean, precision } = columnPrecision(column);
    normal[j * p + j] = precision;
    right[j] = precision * mean;
  });
  for (let i = 0; i < n; i++) {
    const row = rows[i]!;
    const s = siteOf[i]!;
    weightOfSite[s] = weightOfSite[s]! + w[i]!;
    b[s] = b[s]! + w[i]! * y[i]!;
    for (let j = 0; j < p; j++) {
      const x = row[j]!;
      if (x === 0) continue;
      a[s * p + j] = a[s * p + j]! + w[i]! * x;
      right[j] = right[j]! + w[i]! * x * y[i]!;
      for (let k = 0; k < p; k++) normal[j * p + k] = normal[j * p + k]! + w[i]! * x * row[k]!;
    }
  }
  for (let s = 0; s < sites; s++) {
    const c = 1 / (1 / siteVariance + weightOfSite[s]!);
    for (let j = 0; j < p; j++) {
      const aj = a[s * p + j]!;
      if (aj === 0) continue;
      right[j] = right[j]! - c * aj * b[s]!;
      for (let k = 0; k < p; k++) normal[j * p + k] = normal[j * p + k]! - c * aj * a[s * p + k]!;
    }
  }
  const covariance = inverse(normal, p);
  const beta = new Float64Array(p);
  for (let j = 0; j < p; j++)
    for (let k = 0; k < p; k++) beta[j] = beta[j]! + covariance[j * p + k]! * right[k]!;

  const residual = new Float64Array(n);
  const sumOfSite = new Float64Array(sites);
  for (let i = 0; i < n; i++) {
    let fitted = 0;
    for (let j = 0; j < p; j++) fitted += rows[i]![j]! * beta[j]!;
    residual[i] = y[i]! - fitted;
    sumOfSite[siteOf[i]!] = sumOfSite[siteOf[i]!]! + w[i]! * residual[i]!;
  }
  let siteSquares = 0;
  const siteMean = new Float64Array(sites);
  for (let s = 0; s < sites; s++) {
    const c = 1 / (1 / siteVariance + weightOfSite[s]!);
    siteMean[s] = c * sumOfSite[s]!;
    siteSquares += siteMean[s]! * siteMean[s]! + c;
  }
  let lineSquares = 0;
  for (let i = 0; i < n; i++) {
    const k = lineVariance * w[i]!;
    const u = k * (residual[i]! - siteMean[siteOf[i]!]!);
    lineSquares += u * u + lineVariance * (1 - k) + (k * k) / (1 / siteVariance + weightOfSite[siteOf[i]!]!);
  }
  const bySite: PriorModel['sites'] = {};
  siteIds.forEach((id, s) => {
    bySite[id] = { weight: weightOfSite[s]!, residual: sumOfSite[s]! };
  });
  const byLine: PriorModel['lines'] = {};
  lines.forEach(({ lineId }, i) => {
    byLine[lineId] = { weight: w[i]!, residual: w[i]! * residual[i]! };
  });
  return {
    columns: before.columns,
    beta: [...beta],
    covariance: [...covariance],
    // A few pseudo-lines keep the variances of a small base from collapsing.
    lineVariance: (lineSquares + 4 * 0.4) / (n + 4),
    siteVariance: (siteSquares + 4 * 0.3) / (sites + 4),
    ironOfSite: before.ironOfSite,
    sites: bySite,
    lines: byLine,
  };
}

/** Inverse of a symmetric positive definite matrix by Cholesky. @throws {RangeError} When it is not. */
export function inverse(matrix: Float64Array, p: number): Float64Array {
  const l = new Float64Array(p * p);
  for (let i = 0; i < p; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * p + j]!;
      for (let k = 0; k < j; k++) sum -= l[i * p + k]! * l[j * p + k]!;
      if (i === j) {
        if (!(sum > 0)) throw new RangeError('the matrix is not positive definite');
        l[i * p + i] = Math.sqrt(sum);
      } else {
        l[i * p + j] = sum / l[j * p + j]!;
      }
    }
  }
  const out = new Float64Array(p * p);
  const column = new Float64Array(p);
  for (let c = 0; c < p; c++) {
    for (let i = 0; i < p; i++) {
      let sum = i === c ? 1 : 0;
      for (let k = 0; k < i; k++) sum -= l[i * p + k]! * column[k]!;
      column[i] = sum / l[i * p + i]!;
    }
    for (let i = p - 1; i >= 0; i--) {
      let sum = column[i]!;
      for (let k = i + 1; k < p; k++) sum -= l[k * p + i]! * out[k * p + c]!;
      out[i * p + c] = sum / l[i * p + i]!;
    }
  }
  return out;
}
