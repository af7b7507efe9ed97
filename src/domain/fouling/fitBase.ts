import { ENGINE_VERSION, type LineEvidence } from './evidence.js';
import { growthShape } from './growthShape.js';
import { type PoolingVariances, type RatePrior, ratePrior } from './pooling.js';
import { type SharedShape, searchShape } from './searchShape.js';
import { type LaidBase, layBase, poolRound, readingLikelihood, startPool, withVisits } from './sharedFit.js';
import { type TraitList, traitsOf } from './traits.js';
import type { VisitTimes } from './visitTimes.js';

/** What the lines of a base tell each other under one growth law. */
export interface FittedShape extends SharedShape {
  visitTimes: VisitTimes;
  siteVariance: number;
  lineVariance: number;
  coefficients: number[];
  /** Row by row. */
  covariance: number[];
  /** Of each site: weight and sum of what its lines' traits leave open. */
  sites: Record<string, [number, number]>;
  /** Of each line: mean and variance of the prior of its log rate, its own readings left out. */
  lines: Record<string, [number, number]>;
}

/** Everything a base's lines share; plain JSON. */
export interface BaseFit {
  engineVersion: string;
  asOfDay: number;
  traits: TraitList;
  shapes: FittedShape[];
}

export interface FitOptions {
  /** A fit to start from. */
  from?: BaseFit;
  /** Keep the shapes of `from` and pool anew: every night but the weekly one. */
  keepShape?: boolean;
  onProgress?: (share: number) => void;
}

const SEARCH_LINES = 800;
const ROUNDS = 6;
const ROUNDS_FROM_FIT = 4;

/**
 * Fits what the lines of a base share. Independent of the order of the lines, and the same each time.
 * @param asOfDay Later events are left out.
 */
export function fitBase(given: readonly LineEvidence[], asOfDay: number, options: FitOptions = {}): BaseFit {
  const onProgress = options.onProgress ?? (() => undefined);
  const lines = [...given].sort((a, b) => (a.lineId < b.lineId ? -1 : 1));
  const base = layBase(lines, asOfDay);
  const from = options.from?.engineVersion === ENGINE_VERSION ? options.from : undefined;
  let shapes: (SharedShape & { visitTimes: VisitTimes })[];
  let variances: PoolingVariances | undefined;
  if (from && options.keepShape) {
    shapes = from.shapes.map(({ k1, k2, weight, parameters, visitTimes }) => ({
      k1,
      k2,
      weight,
      parameters,
      visitTimes,
    }));
  } else {
    const sample = searchSample(lines);
    const found = searchShape(sample === lines ? base : layBase(sample, asOfDay), (share) =>
      onProgress(0.85 * share),
    );
    shapes = found.shapes.map((shape) => ({ ...shape, visitTimes: found.pool.visitTimes }));
    variances = found.pool;
  }
  const fitted = shapes.map((shape, i) => {
    onProgress(0.85 + (0.15 * i) / shapes.length);
    return fitShape(
      base,
      shape,
      from?.shapes.find(({ k1, k2 }) => k1 === shape.k1 && k2 === shape.k2),
      variances,
    );
  });
  onProgress(1);
  return { engineVersion: ENGINE_VERSION, asOfDay, traits: base.traits, shapes: fitted };
}

function fitShape(
  base: LaidBase,
  shape: SharedShape & { visitTimes: VisitTimes },
  from: FittedShape | undefined,
  variances: PoolingVariances | undefined,
): FittedShape {
  const readings = readingLikelihood(base, growthShape(shape.k1, shape.k2), shape.parameters);
  let pool = startPool(base, shape.visitTimes);
  const all = withVisits(readings, pool.visits);
  const known = variances ?? from;
  if (known) {
    pool.siteVariance = known.siteVariance;
    pool.lineVariance = known.lineVariance;
  }
  if (from) {
    base.lines.forEach(({ lineId }, i) => {
      const [mean, variance] = from.lines[lineId] ?? [pool.priorMean[i]!, pool.priorVariance[i]!];
      pool.priorMean[i] = mean;
      pool.priorVariance[i] = variance;
    });
  }
  const rounds = from ? ROUNDS_FROM_FIT : ROUNDS;
  for (let round = 0; round < rounds; round++) pool = poolRound(base, all, pool);
  const { pooled } = pool;
  if (pooled === null) throw new RangeError('No round of pooling');
  return {
    ...shape,
    siteVariance: pool.siteVariance,
    lineVariance: pool.lineVariance,
    coefficients: [...pooled.coefficients],
    covariance: [...pooled.covariance],
    sites: Object.fromEntries(
      base.siteIds.map((id, j) => [id, [pooled.siteWeight[j]!, pooled.siteSum[j]!] as [number, number]]),
    ),
    lines: Object.fromEntries(
      base.lines.map(({ lineId }, i) => [
        lineId,
        [pool.priorMean[i]!, pool.priorVariance[i]!] as [number, number],
      ]),
    ),
  };
}

/** Belief about a line's log rate before its own readings; a line the fit never saw goes by its traits and its site. */
export function priorOf(fit: BaseFit, shape: FittedShape, line: LineEvidence): RatePrior {
  const known = shape.lines[line.lineId];
  if (known) return { mean: known[0], variance: known[1] };
  const { columns, values } = traitsOf(fit.traits, line);
  const size = shape.coefficients.length;
  let mean = 0;
  let variance = 0;
  columns.forEach((column, a) => {
    mean += values[a]! * shape.coefficients[column]!;
    columns.forEach((other, b) => {
      variance += values[a]! * values[b]! * shape.covariance[column * size + other]!;
    });
  });
  const [weight, sum] = shape.sites[line.siteId] ?? [0, 0];
  return ratePrior(shape, { mean, variance }, { weight, sum }, { weight: 0, pull: 0 });
}

/** Whole sites, spread evenly over the base, up to a fixed number of lines. */
export function searchSample(lines: LineEvidence[]): LineEvidence[] {
  if (lines.length <= SEARCH_LINES * 1.15) return lines;
  const sites = [...new Set(lines.map(({ siteId }) => siteId))].sort();
  const wanted = Math.max(1, Math.round((sites.length * SEARCH_LINES) / lines.length));
  const chosen = new Set(
    Array.from({ length: wanted }, (_, i) => sites[Math.floor((i * sites.length) / wanted)]),
  );
  return lines.filter(({ siteId }) => chosen.has(siteId));
}
