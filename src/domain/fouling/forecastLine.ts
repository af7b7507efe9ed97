import { type Doubt, HORIZON_DAYS, type LineEvidence, type LineForecast } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { LOG_RATES, POINTS, RATES } from './grid.js';
import { type GrowthShape, growthShape } from './growthShape.js';
import {
  type FilterState,
  filterLine,
  filterState,
  filterStep,
  grow,
  rescale,
  startState,
} from './lineFilter.js';
import { priorOf } from './linePrior.js';
import { EXACT, type LineSteps, lineSteps } from './lineSteps.js';
import { normalCdf, normalDensity } from './normal.js';
import type { FirstPassage, RateComponent } from './passage.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';
import { intervalsOf, takeVisitTimes } from './visitTimes.js';

/** A slow line's posterior is carried by some twenty points; the rest weigh nothing. */
const NEGLIGIBLE = 1e-4;
const COMPONENTS = 8;
/** Days ahead at which the chances are computed; in between they are drawn straight. */
const AHEAD: readonly number[] = aheadDays();

function aheadDays(): number[] {
  const days = [0];
  while ((days.at(-1) ?? 0) < HORIZON_DAYS) {
    const last = days.at(-1) ?? 0;
    days.push(Math.min(HORIZON_DAYS, last + Math.max(4, Math.round(0.06 * last))));
  }
  return days;
}

/** A line's belief under one shape: weights of the rates, and the state of the level at each. */
interface Belief {
  shape: GrowthShape;
  parameters: ShapeParameters;
  /** Of all beliefs together the weights add to 1. */
  weight: Float64Array;
  state: FilterState;
}

const shapes = new Map<string, GrowthShape>();

/** A growth law's tables depend on its two numbers alone: made once. */
function lawOf(k1: number, k2: number): GrowthShape {
  const key = `${k1} ${k2}`;
  const held = shapes.get(key);
  if (held) return held;
  const made = growthShape(k1, k2);
  shapes.set(key, made);
  return made;
}

/**
 * What is believed about one line on a day: a line with no reading and one with twenty go through here.
 * Work on it happens when a passage is asked for.
 */
export function forecastLine(fit: BaseFit, line: LineEvidence, asOfDay: number): LineForecast {
  const steps = lineSteps([line], asOfDay);
  const beliefs = fit.shapes.map((fitted) => beliefOf(fitted, line, steps, asOfDay));
  const now = levelNow(beliefs);
  const readings = line.events.filter(
    (event) => (event.kind === 'reading' || event.kind === 'plugged') && event.day <= asOfDay,
  );
  return {
    asOfDay,
    occlusionNow: now,
    ratePerDay: rateNow(beliefs),
    readingsUsed: readings.length,
    doubts: doubtsOf(fit.shapes[0], beliefs[0], line, steps),
    passage: (limit) => passageOf(beliefs, limit, asOfDay),
    components: componentsOf(beliefs[0], asOfDay),
    curve: (daysAhead) => levelAt(beliefs, daysAhead, asOfDay),
  };
}

function beliefOf(fitted: FittedShape, line: LineEvidence, steps: LineSteps, asOfDay: number): Belief {
  const shape = lawOf(fitted.k1, fitted.k2);
  const { parameters } = fitted;
  const state = filterState();
  filterLine(steps, 0, shape, parameters, state);
  advance(state, shape, parameters, steps.lastDay[0]!, asOfDay);
  takeVisitTimes(intervalsOf([line]), 0, fitted.visitTimes, state.weight, 0);
  const prior = priorOf(fitted.prior, line);
  const weight = new Float64Array(POINTS);
  let total = 0;
  for (let g = 0; g < POINTS; g++) {
    const away = LOG_RATES[g]! - prior.mean;
    weight[g] = state.weight[g]! * Math.exp((-0.5 * away * away) / prior.variance);
    total += weight[g]!;
  }
  for (let g = 0; g < POINTS; g++) {
    const share = total > 0 ? weight[g]! / total : 1 / POINTS;
    weight[g] = fitted.weight * (share < NEGLIGIBLE ? 0 : share);
  }
  return { shape, parameters, weight, state };
}

function advance(
  state: FilterState,
  shape: GrowthShape,
  parameters: ShapeParameters,
  fromDay: number,
  toDay: number,
): void {
  if (toDay <= fromDay) return;
  grow(
    state,
    shape,
    Math.max(0, seasonDays(parameters, fromDay, toDay)),
    parameters.growthNoise,
    parameters.timeNoise * (toDay - fromDay),
  );
}

function copyOf(state: FilterState): FilterState {
  return { ...state, mean: state.mean.slice(), variance: state.variance.slice() };
}

/** Chances on the days of AHEAD, one shape after another. */
function passageOf(beliefs: readonly Belief[], limit: number, asOfDay: number): FirstPassage {
  const chance = new Float64Array(AHEAD.length);
  let total = 0;
  for (const { shape, parameters, weight, state } of beliefs) {
    const moving = copyOf(state);
    for (let g = 0; g < POINTS; g++) total += weight[g]!;
    for (let d = 0; d < AHEAD.length; d++) {
      if (d > 0) advance(moving, shape, parameters, asOfDay + AHEAD[d - 1]!, asOfDay + AHEAD[d]!);
      for (let g = 0; g < POINTS; g++) {
        const w = weight[g]!;
        if (w > 0)
          chance[d] = chance[d]! + w * normalCdf((moving.mean[g]! - limit) / Math.sqrt(moving.variance[g]!));
      }
    }
  }
  for (let d = 0; d < chance.length; d++)
    chance[d] = Math.min(1, Math.max(d > 0 ? chance[d - 1]! : 0, chance[d]! / total));
  return steppedPassage(chance);
}

/** A first passage out of chances on the days of AHEAD that never fall. */
export function steppedPassage(chance: Float64Array): FirstPassage {
  return {
    horizonDays: HORIZON_DAYS,
    chanceBy(days) {
      if (days <= 0) return chance[0]!;
      if (days >= HORIZON_DAYS) return chance[chance.length - 1]!;
      let d = 1;
      while (AHEAD[d]! < days) d++;
      const part = (days - AHEAD[d - 1]!) / (AHEAD[d]! - AHEAD[d - 1]!);
      return chance[d - 1]! + part * (chance[d]! - chance[d - 1]!);
    },
    quantile(p) {
      if (chance[0]! >= p) return 0;
      for (let d = 1; d < chance.length; d++) {
        if (chance[d]! < p) continue;
        const part = (p - chance[d - 1]!) / (chance[d]! - chance[d - 1]!);
        return AHEAD[d - 1]! + part * (AHEAD[d]! - AHEAD[d - 1]!);
      }
      return null;
    },
  };
}

/** The rate's posterior in equal shares, each stood for by its middle rate; the likeliest shape only. */
function componentsOf(belief: Belief | undefined, asOfDay: number): RateComponent[] {
  if (!belief) return [];
  const { shape, parameters, weight, state } = belief;
  const total = weight.reduce((sum, w) => sum + w, 0);
  const components: RateComponent[] = [];
  let g = 0;
  let below = 0;
  for (let c = 0; c < COMPONENTS; c++) {
    const wanted = ((c + 0.5) / COMPONENTS) * total;
    while (g < POINTS - 1 && below + weight[g]! < wanted) below += weight[g++]!;
    const point = g;
    const single = (mean: number, variance: number, limit: number): FirstPassage => {
      const moving = filterState();
      moving.mean[point] = mean;
      moving.variance[point] = variance;
      const alone = new Float64Array(POINTS);
      alone[point] = 1;
      return passageOf([{ shape, parameters, weight: alone, state: moving }], limit, asOfDay);
    };
    components.push({
      weight: 1 / COMPONENTS,
      ratePerDay: RATES[point]!,
      passage: (limit) => single(state.mean[point]!, state.variance[point]!, limit),
      passageAfterClean: (limit) =>
        single(parameters.residualMean, parameters.residualSd * parameters.residualSd, limit),
    });
  }
  return components;
}

function rateNow(beliefs: readonly Belief[]): LineForecast['ratePerDay'] {
  const weight = new Float64Array(POINTS);
  for (const belief of beliefs) for (let g = 0; g < POINTS; g++) weight[g] = weight[g]! + belief.weight[g]!;
  const total = weight.reduce((sum, w) => sum + w, 0);
  const at = (p: number): number => {
    let below = 0;
    for (let g = 0; g < POINTS; g++) {
      const share = weight[g]! / total;
      if (below + share >= p) {
        // Within the point's own cell, straight in the log rate.
        const part = share > 0 ? (p - below) / share - 0.5 : 0;
        return Math.exp(LOG_RATES[g]! + part * (LOG_RATES[1]! - LOG_RATES[0]!));
      }
      below += share;
    }
    return RATES[POINTS - 1]!;
  };
  return { median: at(0.5), q10: at(0.1), q90: at(0.9) };
}

function levelNow(beliefs: readonly Belief[]): LineForecast['occlusionNow'] {
  let total = 0;
  let mean = 0;
  let square = 0;
  for (const { weight, state } of beliefs) {
    for (let g = 0; g < POINTS; g++) {
      const w = weight[g]!;
      total += w;
      mean += w * state.mean[g]!;
      square += w * (state.variance[g]! + state.mean[g]! * state.mean[g]!);
    }
  }
  mean /= total;
  const sd = Math.sqrt(Math.max(1e-8, square / total - mean * mean));
  const quantile = (p: number): number =>
    levelQuantile(
      beliefs.map(({ weight, state }) => ({ weight, state })),
      p,
    );
  return { mean: clamp(mean), sd, q10: quantile(0.1), q90: quantile(0.9) };
}

const clamp = (x: number): number => Math.min(1, Math.max(0, x));

function levelQuantile(parts: readonly { weight: Float64Array; state: FilterState }[], p: number): number {
  let total = 0;
  for (const { weight } of parts) for (const w of weight) total += w;
  let low = -0.3;
  let high = 1.4;
  for (let i = 0; i < 24; i++) {
    const x = (low + high) / 2;
    let below = 0;
    for (const { weight, state } of parts) {
      for (let g = 0; g < POINTS; g++) {
        const w = weight[g]!;
        if (w > 0) below += w * normalCdf((x - state.mean[g]!) / Math.sqrt(state.variance[g]!));
      }
    }
    if (below / total < p) low = x;
    else high = x;
  }
  return clamp((low + high) / 2);
}

function levelAt(
  beliefs: readonly Belief[],
  daysAhead: number,
  asOfDay: number,
): { q10: number; q50: number; q90: number } {
  const parts = beliefs.map(({ shape, parameters, weight, state }) => {
    const moving = copyOf(state);
    advance(moving, shape, parameters, asOfDay, asOfDay + daysAhead);
    return { weight, state: moving };
  });
  return { q10: levelQuantile(parts, 0.1), q50: levelQuantile(parts, 0.5), q90: levelQuantile(parts, 0.9) };
}

/** Readings whose slip is likelier than not to explain them, under all the others together. */
function doubtsOf(
  fitted: FittedShape | undefined,
  belief: Belief | undefined,
  line: LineEvidence,
  steps: LineSteps,
): Doubt[] {
  if (!fitted || !belief) return [];
  const { shape, parameters, weight } = belief;
  const state = filterState();
  startState(state, steps.startsClean[0] === 1, parameters);
  const total = weight.reduce((sum, w) => sum + w, 0);
  const doubts: Doubt[] = [];
  for (let s = 0; s < steps.first[1]!; s++) {
    if (steps.action[s] === EXACT) {
      const before = copyOf(state);
      advance(before, shape, parameters, steps.day[s]! - steps.days[s]!, steps.day[s]!);
      const error = steps.variance[s]! + steps.rounding[s]!;
      let right = 0;
      for (let g = 0; g < POINTS; g++) {
        const sd = Math.sqrt(before.variance[g]! + error);
        right += (weight[g]! / total) * (normalDensity((steps.value[s]! - before.mean[g]!) / sd) / sd);
      }
      const keep = (1 - parameters.grossShare) * right;
      const share = keep / (keep + parameters.grossShare);
      const event = line.events[steps.event[s]!];
      if (share < 0.5 && event?.kind === 'reading')
        doubts.push({ id: event.id, weight: share, suspicion: 1 - share });
    }
    filterStep(steps, s, shape, parameters, state);
    rescale(state);
  }
  return doubts.sort((a, b) => a.weight - b.weight || (a.id < b.id ? -1 : 1));
}

export interface PastLevel {
  day: number;
  q10: number;
  q50: number;
  q90: number;
}

/** The belief about the past between cleans, by what was known at each moment, with the rates believed now. */
export function history(fit: BaseFit, line: LineEvidence, asOfDay: number, stepDays: number): PastLevel[] {
  const fitted = fit.shapes[0];
  if (!fitted) return [];
  const steps = lineSteps([line], asOfDay);
  const { shape, parameters, weight } = beliefOf(fitted, line, steps, asOfDay);
  const state = filterState();
  startState(state, steps.startsClean[0] === 1, parameters);
  const out: PastLevel[] = [];
  const take = (day: number, from: FilterState) =>
    out.push({
      day,
      q10: levelQuantile([{ weight, state: from }], 0.1),
      q50: levelQuantile([{ weight, state: from }], 0.5),
      q90: levelQuantile([{ weight, state: from }], 0.9),
    });
  let day = line.start.day;
  const walk = (to: number) => {
    for (let at = day + stepDays; at < to; at += stepDays) {
      const ahead = copyOf(state);
      advance(ahead, shape, parameters, day, at);
      take(at, ahead);
    }
  };
  take(day, state);
  for (let s = 0; s < steps.first[1]!; s++) {
    walk(steps.day[s]!);
    filterStep(steps, s, shape, parameters, state);
    day = steps.day[s]!;
    take(day, state);
  }
  walk(asOfDay);
  const ahead = copyOf(state);
  advance(ahead, shape, parameters, day, asOfDay);
  take(asOfDay, ahead);
  return out;
}
