import { ENGINE_VERSION, type LineEvidence } from './evidence.js';
import { POINTS } from './grid.js';
import { growthShape } from './growthShape.js';
import { filterLine, filterState } from './lineFilter.js';
import { type PriorModel, priorOf } from './linePrior.js';
import { type LineSteps, lineSteps } from './lineSteps.js';
import { type Likelihoods, poolRates, posteriorMoments } from './pooling.js';
import { type ShapeParameters, START_PARAMETERS } from './shapeParameters.js';
import {
  fitVisitTimes,
  type Intervals,
  intervalsOf,
  takeVisitTimes,
  type VisitTimes,
  visitTimesScale,
} from './visitTimes.js';

/** One growth law with the noises that go with it, and its pooled prior. */
export interface FittedShape {
  k1: number;
  k2: number;
  /** Share of the belief in it. */
  weight: number;
  parameters: ShapeParameters;
  visitTimes: VisitTimes;
  prior: PriorModel;
}

/** Everything a base's lines share; plain JSON. */
export interface BaseFit {
  engineVersion: string;
  asOfDay: number;
  shapes: FittedShape[];
}

export interface FitOptions {
  /** A fit to start from. */
  from?: BaseFit;
  /** Keep the shapes of `from` and pool anew: every night but the weekly one. */
  keepShape?: boolean;
  onProgress?: (share: number) => void;
}

const SEARCH_LINES = 700;
const SHAPE_PAIRS: [number, number][] = [
  [0, 0],
  [-0.8, 0],
  [0.8, 0],
  [1.6, 0],
  [0, -2],
  [1.2, -2],
  [0, -4.5],
  [1.6, -4.5],
];
const KEPT_SHAPES = 3;
/** Belief in a shape goes by a quarter of its log evidence: the noise of the rest of the model is not in it. */
const SHAPE_TEMPER = 0.25;

/**
 * Fits what the lines of a base share. Independent of the order of the lines and deterministic.
 * @param asOfDay Later events are left out.
 */
export function fitBase(given: readonly LineEvidence[], asOfDay: number, options: FitOptions = {}): BaseFit {
  const lines = [...given].sort((a, b) => (a.lineId < b.lineId ? -1 : 1));
  const steps = lineSteps(lines, asOfDay);
  const intervals = intervalsOf(lines);
  const from = options.from?.engineVersion === ENGINE_VERSION ? options.from : undefined;
  const kept = from && options.keepShape ? from.shapes : searchShapes(lines, asOfDay, options.onProgress);
  const shapes = kept.map((shape, i): FittedShape => {
    options.onProgress?.(0.8 + (0.2 * i) / kept.length);
    const { prior, visitTimes } = evidenceOf(lines, steps, intervals, shape, from ? 3 : 6);
    return { ...shape, prior, visitTimes };
  });
  options.onProgress?.(1);
  return { engineVersion: ENGINE_VERSION, asOfDay, shapes };
}

type Candidate = Omit<FittedShape, 'weight' | 'prior'> & { prior?: PriorModel };

/** Log evidence of the lines under a shape, with the prior and visit times fitted on the way. */
function evidenceOf(
  lines: readonly LineEvidence[],
  steps: LineSteps,
  intervals: Intervals,
  candidate: Candidate,
  rounds: number,
) {
  const shape = growthShape(candidate.k1, candidate.k2);
  const state = filterState();
  const n = lines.length;
  const bare = new Float64Array(n * POINTS);
  const logScale = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    filterLine(steps, i, shape, candidate.parameters, state);
    bare.set(state.weight, i * POINTS);
    logScale[i] = state.logScale;
  }
  let prior = candidate.prior;
  let { visitTimes } = candidate;
  let logEvidence = 0;
  const weight = new Float64Array(n * POINTS);
  const mean = new Float64Array(n);
  const variance = new Float64Array(n);
  for (let pass = 0; pass < 3; pass++) {
    weight.set(bare);
    for (let i = 0; i < n; i++) takeVisitTimes(intervals, i, visitTimes, weight, i * POINTS);
    const likelihoods: Likelihoods = { weight, logScale };
    const pooled = poolRates(lines, likelihoods, prior, pass === 0 ? rounds : 2);
    prior = pooled.model;
    logEvidence = pooled.logEvidence + visitTimesScale(intervals, visitTimes);
    if (pass === 2) break;
    for (let i = 0; i < n; i++) {
      const own = priorOf(prior, lines[i]!);
      const moments = posteriorMoments(weight, i * POINTS, own.mean, own.variance);
      mean[i] = moments.mean;
      variance[i] = moments.variance;
    }
    visitTimes = fitVisitTimes(intervals, mean, variance, visitTimes);
  }
  if (!prior) throw new RangeError('a base without a prior');
  return { prior, visitTimes, logEvidence };
}

/** The parameters that are searched, each on a scale where a step of 1 is about as likely as not. */
const COORDINATES: {
  name: keyof ShapeParameters;
  get: (p: ShapeParameters) => number;
  set: (x: number) => number;
  step: number;
  priorSd: number;
}[] = [
  log('growthNoise', 0.6, 1.2),
  log('timeNoise', 0.8, 1.5),
  plain('seasonCos', 0.2, 0.3, -0.9, 0.9),
  plain('seasonSin', 0.2, 0.3, -0.9, 0.9),
  log('residualMean', 0.4, 0.6),
  log('residualSd', 0.4, 0.5),
  log('cameraFactor', 0.2, 0.3),
  log('lookFactor', 0.2, 0.3),
  log('otherFactor', 0.2, 0.3),
  log('grossShare', 0.5, 1),
  log('changesPerYear', 0.7, 1),
];

function log(name: keyof ShapeParameters, step: number, priorSd: number) {
  return { name, get: (p: ShapeParameters) => Math.log(p[name]), set: Math.exp, step, priorSd };
}

function plain(name: keyof ShapeParameters, step: number, priorSd: number, low: number, high: number) {
  return {
    name,
    get: (p: ShapeParameters) => p[name],
    set: (x: number) => Math.min(high, Math.max(low, x)),
    step,
    priorSd,
  };
}

function logPrior({ k1, k2, parameters }: Candidate): number {
  let sum = (-0.5 * k1 * k1) / 9 - (0.5 * k2 * k2) / 36 - (k1 !== 0 ? 2 : 0) - (k2 !== 0 ? 2 : 0);
  for (const { get, priorSd } of COORDINATES) {
    const away = (get(parameters) - get(START_PARAMETERS)) / priorSd;
    sum -= 0.5 * away * away;
  }
  return sum;
}

/** Coordinate search with shrinking steps on whole sites, then a grid of growth laws. */
function searchShapes(
  all: readonly LineEvidence[],
  asOfDay: number,
  onProgress?: (share: number) => void,
): Omit<FittedShape, 'prior'>[] {
  const lines = searchSample(all);
  const steps = lineSteps(lines, asOfDay);
  const intervals = intervalsOf(lines);
  const score = (candidate: Candidate): { score: number; prior: PriorModel; visitTimes: VisitTimes } => {
    const got = evidenceOf(lines, steps, intervals, candidate, candidate.prior ? 2 : 5);
    return { ...got, score: got.logEvidence + logPrior(candidate) };
  };
  const settled = (
    start: Candidate,
    rounds: number[],
    report: (share: number) => void,
  ): { candidate: Candidate; score: number } => {
    let candidate = start;
    const first = score(candidate);
    let best = first.score;
    candidate = { ...candidate, prior: first.prior, visitTimes: first.visitTimes };
    rounds.forEach((shrink, round) => {
      COORDINATES.forEach((coordinate, c) => {
        report((round + c / COORDINATES.length) / rounds.length);
        for (const direction of [1, -1]) {
          const x = coordinate.get(candidate.parameters) + direction * coordinate.step * shrink;
          const tried: Candidate = {
            ...candidate,
            parameters: { ...candidate.parameters, [coordinate.name]: coordinate.set(x) },
          };
          const got = score(tried);
          if (got.score > best) {
            best = got.score;
            candidate = { ...tried, prior: got.prior, visitTimes: got.visitTimes };
            break;
          }
        }
      });
    });
    return { candidate, score: best };
  };
  const start: Candidate = {
    k1: 0,
    k2: 0,
    parameters: START_PARAMETERS,
    visitTimes: { a: Math.log(120), b: 0, c: 0.2 },
  };
  const rough = settled(start, [1, 0.6], (share) => onProgress?.(0.35 * share));
  const tried = SHAPE_PAIRS.map(([k1, k2], i) => {
    onProgress?.(0.35 + (0.15 * i) / SHAPE_PAIRS.length);
    const { prior: _prior, ...shared } = rough.candidate;
    const candidate: Candidate = { ...shared, k1, k2 };
    return { candidate, score: score(candidate).score };
  });
  tried.sort((a, b) => b.score - a.score || a.candidate.k1 - b.candidate.k1);
  const finished = tried
    .slice(0, KEPT_SHAPES)
    .map(({ candidate }, i) =>
      settled(candidate, [0.6, 0.35], (share) => onProgress?.(0.5 + (0.3 * (i + share)) / KEPT_SHAPES)),
    );
  const best = Math.max(...finished.map(({ score: s }) => s));
  const weights = finished.map(({ score: s }) => Math.exp(SHAPE_TEMPER * (s - best)));
  const total = weights.reduce((sum, w) => sum + w, 0);
  return finished.map(({ candidate: { k1, k2, parameters, visitTimes } }, i) => ({
    k1,
    k2,
    parameters,
    visitTimes,
    weight: (weights[i] ?? 0) / total,
  }));
}

/** Whole sites, spread evenly over the base, up to a fixed number of lines. */
function searchSample(lines: readonly LineEvidence[]): LineEvidence[] {
  if (lines.length <= SEARCH_LINES) return [...lines];
  const sites = [...new Set(lines.map(({ siteId }) => siteId))].sort();
  const wanted = Math.max(1, Math.round((sites.length * SEARCH_LINES) / lines.length));
  const chosen = new Set(
    Array.from({ length: wanted }, (_, i) => sites[Math.floor((i * sites.length) / wanted)]),
  );
  return lines.filter(({ siteId }) => chosen.has(siteId));
}
