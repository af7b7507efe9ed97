import type { LineEvidence } from './evidence.js';
import { type BaseFit, type FittedShape, priorOf } from './fitBase.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS, spreadRates } from './grid.js';
import { type GrowthShape, growthShape } from './growthShape.js';
import { type FilterState, filterLine, filterState, grow } from './lineFilter.js';
import type { LineSteps } from './lineSteps.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';
import { addVisitTimes, type Intervals, type VisitTimes } from './visitTimes.js';

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

/** @param visits How likely the line's intervals are at each rate, but for a factor: see `intervalsWeight`. */
export function lineBelief(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  { steps, i }: LaidLine,
  visits: Float64Array,
  asOfDay: number,
): LineBelief {
  const shape = lawOf(fitted.k1, fitted.k2);
  const { parameters } = fitted;
  const state = filterState();
  filterLine(steps, i, shape, parameters, state);
  advance(state, shape, parameters, steps.lastDay[i]!, asOfDay);
  const prior = priorOf(fit, fitted, line);
  const weight = freshRow(POINTS);
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - prior.mean;
    weight[g] = state.weight[g]! * visits[g]! * Math.exp((-0.5 * away * away) / prior.variance);
  }
  share(weight, fitted.weight);
  const changedWeight = freshRow(POINTS);
  spreadRates(weight, changedWeight);
  share(changedWeight, fitted.weight);
  return { shape, parameters, weight, changedWeight, state };
}

/** A line among those laid out together. */
export interface LaidLine {
  steps: LineSteps;
  intervals: Intervals;
  i: number;
}

/** How likely a line's intervals are at each rate; 1 at the likeliest. */
export function intervalsWeight({ intervals, i }: LaidLine, times: VisitTimes): Float64Array {
  const weight = freshRow(POINTS);
  addVisitTimes(intervals, i, times, weight, 0);
  let top = -Infinity;
  for (let g = 0; g < POINTS; g++) top = Math.max(top, weight[g]!);
  for (let g = 0; g < POINTS; g++) weight[g] = Math.exp(weight[g]! - top);
  return weight;
}

function share(weight: Float64Array, total: number): void {
  let sum = 0;
  for (let g = 0; g < POINTS; g++) sum += weight[g]!;
  if (!(sum > 0)) throw new RangeError('A line has no likely rate');
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
