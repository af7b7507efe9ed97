import { growthShape } from './growthShape.js';
import { type ShapeParameters, START_PARAMETERS } from './shapeParameters.js';
import {
  fitVisitTimes,
  type LaidBase,
  logEvidence,
  type PoolState,
  poolRound,
  readingLikelihood,
  startPool,
  withVisitTimes,
} from './sharedFit.js';

/** A growth law with the parameters that go with it. */
export interface SharedShape {
  k1: number;
  k2: number;
  parameters: ShapeParameters;
  /** Share of the belief. */
  weight: number;
}

interface Coordinate {
  name: keyof ShapeParameters;
  /** On a log scale, or as it is. */
  log: boolean;
  step: number;
  priorSd: number;
}

const COORDINATES: readonly Coordinate[] = [
  { name: 'seasonCos', log: false, step: 0.15, priorSd: 0.4 },
  { name: 'seasonSin', log: false, step: 0.15, priorSd: 0.4 },
  { name: 'residualMean', log: true, step: 0.3, priorSd: 0.6 },
  { name: 'residualSd', log: true, step: 0.3, priorSd: 0.5 },
  { name: 'cameraFactor', log: true, step: 0.2, priorSd: 0.4 },
  { name: 'lookFactor', log: true, step: 0.2, priorSd: 0.4 },
  { name: 'otherFactor', log: true, step: 0.2, priorSd: 0.4 },
  { name: 'grossShare', log: true, step: 0.5, priorSd: 1 },
  { name: 'growthNoise', log: true, step: 0.6, priorSd: 1.2 },
  { name: 'timeNoise', log: true, step: 0.8, priorSd: 1.5 },
  { name: 'changesPerYear', log: true, step: 0.7, priorSd: 0.7 },
];
const STRONGEST_SEASON = 0.9;

function readCoordinate({ name, log }: Coordinate, parameters: ShapeParameters): number {
  return log ? Math.log(parameters[name]) : parameters[name];
}

function moved({ name, log }: Coordinate, parameters: ShapeParameters, by: number): ShapeParameters | null {
  const next = { ...parameters, [name]: log ? parameters[name] * Math.exp(by) : parameters[name] + by };
  const season = next.seasonCos * next.seasonCos + next.seasonSin * next.seasonSin;
  return season > STRONGEST_SEASON * STRONGEST_SEASON ? null : next;
}

/** Log prior: weak, around what is usual; a bend must earn two nats to be told from straight growth. */
function logPrior(k1: number, k2: number, parameters: ShapeParameters): number {
  let sum = -(k1 * k1) / 18 - (k2 * k2) / 72 - (k1 === 0 ? 0 : 2) - (k2 === 0 ? 0 : 2);
  for (const coordinate of COORDINATES) {
    const away =
      (readCoordinate(coordinate, parameters) - readCoordinate(coordinate, START_PARAMETERS)) /
      coordinate.priorSd;
    sum -= 0.5 * away * away;
  }
  return sum;
}

interface Point {
  k1: number;
  k2: number;
  parameters: ShapeParameters;
}

interface Scored extends Point {
  score: number;
  pool: PoolState;
}

function scored(base: LaidBase, point: Point, from: PoolState, rounds: number): Scored {
  const readings = readingLikelihood(base, growthShape(point.k1, point.k2), point.parameters);
  const all = withVisitTimes(base, readings, from.visitTimes);
  let pool = from;
  for (let round = 0; round < rounds; round++) pool = poolRound(base, all, pool);
  const score = logEvidence(base, all, pool) + logPrior(point.k1, point.k2, point.parameters);
  return { ...point, score, pool };
}

function withFreshVisitTimes(base: LaidBase, at: Scored, shrinks: readonly number[]): Scored {
  const readings = readingLikelihood(base, growthShape(at.k1, at.k2), at.parameters);
  const visitTimes = fitVisitTimes(base, readings, at.pool, shrinks);
  return scored(base, at, { ...at.pool, visitTimes }, 2);
}

/** Moves each coordinate while that helps, by steps that shrink. */
function climb(
  base: LaidBase,
  from: Scored,
  steps: number[],
  shrinks: readonly number[],
  tick: () => void,
): Scored {
  let best = from;
  for (const shrink of shrinks) {
    COORDINATES.forEach((coordinate, c) => {
      tick();
      for (const direction of [1, -1]) {
        const parameters = moved(coordinate, best.parameters, direction * steps[c]! * shrink);
        if (parameters === null) continue;
        const tried = scored(base, { ...best, parameters }, best.pool, 1);
        if (tried.score > best.score) {
          best = tried;
          steps[c] = direction * Math.abs(steps[c]!) * 1.3;
          return;
        }
      }
      steps[c] = steps[c]! * 0.6;
    });
  }
  return best;
}

const K1_STEP = 0.4;
const K2_LEVELS = [0, -2, -4.5] as const;
const K1_ENDS = [-3.2, 3.2] as const;
/** Below the best by so many nats a growth law is not worth going on from. */
const HOPELESS = 16;

/** Log evidence of the growth laws on a grid, walked outwards from the best known one. */
function scanLaws(base: LaidBase, from: Scored): Scored[] {
  const found: Scored[] = [];
  for (const k2 of K2_LEVELS) {
    const middle = k2 === from.k2 ? from.k1 : from.k1 - (k2 - from.k2) * 0.3;
    const start = Math.round(middle / K1_STEP);
    let top = -Infinity;
    for (const direction of [1, -1]) {
      let pool = from.pool;
      for (let i = direction === 1 ? start : start - 1; ; i += direction) {
        const k1 = i === 0 ? 0 : i * K1_STEP;
        if (k1 < K1_ENDS[0] || k1 > K1_ENDS[1]) break;
        const got = scored(base, { k1, k2, parameters: from.parameters }, pool, 1);
        found.push(got);
        pool = got.pool;
        top = Math.max(top, got.score);
        if (got.score < top - HOPELESS) break;
      }
    }
  }
  return found.sort((a, b) => b.score - a.score || a.k1 - b.k1 || a.k2 - b.k2);
}

/** Evidence is tempered: what the rest of the model gets wrong is not in it. */
const TEMPER = 0.25;
const LEAST_WEIGHT = 0.04;
const MOST_LAWS = 6;

/** Searches the laws of growth and all shared parameters; weights add to 1, best first. */
export function searchShape(
  base: LaidBase,
  onProgress: (share: number) => void,
): {
  shapes: SharedShape[];
  pool: PoolState;
} {
  let ticks = 0;
  const tick = (): void => onProgress(Math.min(0.95, ++ticks / 90));
  const steps = COORDINATES.map(({ step }) => step);
  let best = scored(base, { k1: 0, k2: 0, parameters: START_PARAMETERS }, startPool(base), 4);
  best = withFreshVisitTimes(base, best, [1, 1, 0.5]);
  best = climb(base, best, steps, [1, 1], tick);
  best = withFreshVisitTimes(base, best, [0.5, 0.3]);
  best = scanLaws(base, best)[0] ?? best;
  best = climb(base, best, steps, [1, 1, 1], tick);
  best = withFreshVisitTimes(base, best, [0.4, 0.2]);
  best = scanLaws(base, best)[0] ?? best;
  best = climb(base, best, steps, [1, 1], tick);
  const laws = scanLaws(base, best);
  const top = laws[0] ?? best;
  const weights = laws.map(({ score }) => Math.exp(TEMPER * (score - top.score)));
  const total = weights.reduce((sum, w) => sum + w, 0);
  const kept = laws.slice(0, MOST_LAWS).filter((_, i) => weights[i]! / total >= LEAST_WEIGHT);
  const keptTotal = kept.reduce((sum, _, i) => sum + weights[i]!, 0);
  const shapes = kept.map(({ k1, k2, parameters }, i) => ({
    k1,
    k2,
    parameters,
    weight: weights[i]! / keptTotal,
  }));
  return { shapes, pool: top.pool };
}
