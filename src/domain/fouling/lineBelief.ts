import type { LineEvidence } from './evidence.js';
import { type BaseFit, type FittedShape, priorOf } from './fitBase.js';
import { LOG_RATES, POINTS, spreadRates } from './grid.js';
import { type GrowthShape, growthShape } from './growthShape.js';
import { type FilterState, filterLine, filterState, grow } from './lineFilter.js';
import type { LineSteps } from './lineSteps.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';
import { addVisitTimes, type Intervals } from './visitTimes.js';

/** What is believed of a line under one growth law on one day. */
export interface LineBelief {
  shape: GrowthShape;
  parameters: ShapeParameters;
  /** Of each rate; over all laws of a line they add to 1. */
  weight: Float64Array;
  /** The same if the regime changed today. */
  changedWeight: Float64Array;
  /** Level at each rate. */
  state: FilterState;
}

const laws = new Map<string, GrowthShape>();

/** A growth law's tables depend on its two numbers alone: made once. */
export function lawOf(k1: number, k2: number): GrowthShape {
  const key = `${k1} ${k2}`;
  const held = laws.get(key);
  if (held) return held;
  const made = growthShape(k1, k2);
  laws.set(key, made);
  return made;
}

/** Rates of less belief than this are left out. */
const NEGLIGIBLE = 2e-5;

export function lineBelief(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  steps: LineSteps,
  intervals: Intervals,
  asOfDay: number,
): LineBelief {
  const shape = lawOf(fitted.k1, fitted.k2);
  const { parameters } = fitted;
  const state = filterState();
  filterLine(steps, 0, shape, parameters, state);
  advance(state, shape, parameters, steps.lastDay[0]!, asOfDay);
  const prior = priorOf(fit, fitted, line);
  const log = state.weight.map((w, g) => {
    const away = LOG_RATES[g]! - prior.mean;
    return Math.log(w + 1e-300) - (0.5 * away * away) / prior.variance;
  });
  addVisitTimes(intervals, 0, fitted.visitTimes, log, 0);
  const top = log.reduce((a, b) => Math.max(a, b), -Infinity);
  const weight = log.map((x) => Math.exp(x - top));
  share(weight, fitted.weight);
  const changedWeight = new Float64Array(POINTS);
  spreadRates(weight, changedWeight);
  share(changedWeight, fitted.weight);
  return { shape, parameters, weight, changedWeight, state };
}

function share(weight: Float64Array, total: number): void {
  let sum = 0;
  for (const w of weight) sum += w;
  let kept = 0;
  for (let g = 0; g < POINTS; g++) {
    if (weight[g]! < NEGLIGIBLE * sum) weight[g] = 0;
    kept += weight[g]!;
  }
  for (let g = 0; g < POINTS; g++) weight[g] = (weight[g]! * total) / kept;
}

/** Lets the level grow from one day to a later one, at every rate. */
export function advance(
  state: FilterState,
  shape: GrowthShape,
  parameters: ShapeParameters,
  fromDay: number,
  toDay: number,
): void {
  if (toDay <= fromDay) return;
  const days = Math.max(0, seasonDays(parameters, fromDay, toDay));
  grow(state, shape, days, parameters.growthNoise, parameters.timeNoise * (toDay - fromDay));
}
