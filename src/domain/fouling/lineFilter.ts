import { POINTS, RATES, spreadRates } from './grid.js';
import { type GrowthShape, HIGH_X, LOW_X, STEPS_PER_X } from './growthShape.js';
import { AT_LEAST, AT_MOST, CLEAN, EXACT, type LineSteps, MARK, PLUGGED, REGIME } from './lineSteps.js';
import { hazardRatio, normalCdf } from './normal.js';
import type { ShapeParameters } from './shapeParameters.js';

/** A bore this full is plugged. */
export const FULL = 0.96;
/** A new pipe holds next to nothing. */
const NEW_MEAN = 0.01;
const NEW_SD = 0.01;
/** A slip lands near 0 more often than elsewhere: per cents divided twice, free bore taken for blocked bore. */
const SLIP_AT_ZERO = 0.4;
const ROOT_TWO_PI = 2.5066282746310002;

/** For every rate of the grid what the readings make of the level, and how likely they are. */
export interface FilterState {
  mean: Float64Array;
  variance: Float64Array;
  /** Likelihood, without the factor exp(logScale). */
  weight: Float64Array;
  logScale: number;
  full: Float64Array;
  spare: Float64Array;
}

export function filterState(): FilterState {
  const row = (): Float64Array => new Float64Array(POINTS);
  return { mean: row(), variance: row(), weight: row(), logScale: 0, full: row(), spare: row() };
}

export function startState(state: FilterState, clean: boolean, parameters: ShapeParameters): void {
  state.mean.fill(clean ? NEW_MEAN : parameters.unknownMean);
  state.variance.fill(clean ? NEW_SD * NEW_SD : parameters.unknownSd * parameters.unknownSd);
  state.weight.fill(1);
  state.logScale = 0;
}

/** Runs the readings of line i through the filter; the state ends on the day of its last step. */
export function filterLine(
  steps: LineSteps,
  i: number,
  shape: GrowthShape,
  parameters: ShapeParameters,
  state: FilterState,
): void {
  startState(state, steps.startsClean[i] === 1, parameters);
  const end = steps.first[i + 1]!;
  let updates = 0;
  for (let s = steps.first[i]!; s < end; s++) {
    filterStep(steps, s, shape, parameters, state);
    if (++updates % 4 === 0) rescale(state);
  }
  rescale(state);
}

/** Grows the level to the day of step s and takes in what was found. */
export function filterStep(
  steps: LineSteps,
  s: number,
  shape: GrowthShape,
  parameters: ShapeParameters,
  state: FilterState,
): void {
  const days = steps.days[s]!;
  if (days > 0) {
    const grown = days + parameters.seasonCos * steps.sine[s]! - parameters.seasonSin * steps.cosine[s]!;
    grow(state, shape, Math.max(0, grown), parameters.growthNoise, parameters.timeNoise * days);
  }
  const action = steps.action[s]!;
  if (action <= AT_LEAST) {
    const method = steps.method[s]!;
    const factor =
      method === 0 ? parameters.cameraFactor : method === 1 ? parameters.lookFactor : parameters.otherFactor;
    const error = steps.variance[s]! * factor * factor + steps.rounding[s]!;
    if (action === EXACT) readExact(state, steps.value[s]!, error, parameters.grossShare);
    else readBound(state, steps.value[s]!, error, parameters.grossShare, action === AT_MOST);
  } else if (action === CLEAN || action === REGIME) {
    const years = steps.value[s]!;
    const changed = action === REGIME ? 0.5 : -Math.expm1(-parameters.changesPerYear * Math.min(years, 10));
    if (action === CLEAN) clean(state, parameters);
    change(state, changed, action === REGIME);
  } else if (action === MARK) {
    for (let g = 0; g < POINTS; g++) {
      state.full[g] = (state.mean[g]! - FULL) / Math.sqrt(state.variance[g]!);
    }
  } else if (action === PLUGGED) {
    foundPlugged(state, steps.value[s]!);
  }
}

/** Lets every rate of the grid grow over season-weighted days. */
export function grow(
  state: FilterState,
  shape: GrowthShape,
  seasonDays: number,
  growthNoise: number,
  timeVariance: number,
): void {
  const { mean, variance } = state;
  const { yOfX, slopeOfX, xOfY, lowY, stepsPerY } = shape;
  const lastY = xOfY.length - 2;
  for (let g = 0; g < POINTS; g++) {
    const x = Math.max(LOW_X, Math.min(HIGH_X, mean[g]!));
    let place = (x - LOW_X) * STEPS_PER_X;
    let k = place | 0;
    let part = place - k;
    const y = yOfX[k]! + part * (yOfX[k + 1]! - yOfX[k]!);
    const slopeBefore = slopeOfX[k]! + part * (slopeOfX[k + 1]! - slopeOfX[k]!);
    const growth = RATES[g]! * seasonDays;
    place = Math.min(lastY, (y + growth - lowY) * stepsPerY);
    k = place | 0;
    part = place - k;
    const after = xOfY[k]! + part * (xOfY[k + 1]! - xOfY[k]!);
    place = (after - LOW_X) * STEPS_PER_X;
    k = place | 0;
    part = place - k;
    const slope = slopeOfX[k]! + part * (slopeOfX[k + 1]! - slopeOfX[k]!);
    const stretch = slope / slopeBefore;
    mean[g] = after;
    variance[g] =
      variance[g]! * stretch * stretch + (growthNoise * growth + timeVariance) * slope * slope + 1e-9;
  }
}

function readExact(state: FilterState, value: number, error: number, slip: number): void {
  const { mean, variance, weight } = state;
  const keep = (1 - slip) / ROOT_TWO_PI;
  for (let g = 0; g < POINTS; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const total = p + error;
    const away = value - m;
    const right = (keep * Math.exp((-0.5 * away * away) / total)) / Math.sqrt(total);
    const both = right + slip;
    const share = right / both;
    const gain = p / total;
    const shift = gain * away;
    mean[g] = m + share * shift;
    variance[g] = p - share * gain * p + share * (1 - share) * shift * shift;
    weight[g] = weight[g]! * both;
  }
}

/** The level is at most (or at least) the value, give or take the reading's error. */
function readBound(state: FilterState, value: number, error: number, slip: number, below: boolean): void {
  const { mean, variance, weight } = state;
  const sign = below ? -1 : 1;
  const wrong = slip * SLIP_AT_ZERO;
  for (let g = 0; g < POINTS; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const total = p + error;
    const sd = Math.sqrt(total);
    const z = (sign * (m - value)) / sd;
    const right = (1 - slip) * normalCdf(z);
    const both = right + wrong;
    const share = right / both;
    const ratio = hazardRatio(z);
    const shift = (sign * ratio * p) / sd;
    const cut = ((p * p) / total) * ratio * (ratio + z);
    mean[g] = m + share * shift;
    variance[g] = p - share * Math.min(cut, 0.99 * p) + share * (1 - share) * shift * shift;
    weight[g] = weight[g]! * both;
  }
}

/** It filled up since the mark: it was not full then and is now. */
function foundPlugged(state: FilterState, slip: number): void {
  const { mean, variance, weight, full } = state;
  for (let g = 0; g < POINTS; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const sd = Math.sqrt(p);
    const z = (m - FULL) / sd;
    const before = full[g]!;
    const passed = before > 0 ? normalCdf(-before) - normalCdf(-z) : normalCdf(z) - normalCdf(before);
    const right = (1 - slip) * Math.max(0, passed);
    const both = right + slip * 0.05;
    const share = right / both;
    const ratio = hazardRatio(z);
    const shift = ratio * sd;
    const cut = p * ratio * (ratio + z);
    mean[g] = Math.min(HIGH_X, m + share * shift);
    variance[g] = p - share * Math.min(cut, 0.99 * p) + share * (1 - share) * shift * shift;
    weight[g] = weight[g]! * both;
  }
}

function clean(state: FilterState, parameters: ShapeParameters): void {
  const { mean, variance } = state;
  const left = parameters.residualMean;
  const spread = parameters.residualSd * parameters.residualSd;
  for (let g = 0; g < POINTS; g++) {
    mean[g] = Math.min(left, Math.max(0, mean[g]!));
    variance[g] = spread;
  }
}

/**
 * The rate may be another from now on.
 * @param share     Chance that it is.
 * @param withLevel Whether the level depends on the rate: not after a clean.
 */
function change(state: FilterState, share: number, withLevel: boolean): void {
  if (share < 1e-5) return;
  const { mean, variance, weight, spare } = state;
  rescale(state);
  if (!withLevel) {
    spreadRates(weight, spare);
    for (let g = 0; g < POINTS; g++) weight[g] = (1 - share) * weight[g]! + share * spare[g]!;
    return;
  }
  const first = weight.map((w, g) => w * mean[g]!);
  const second = weight.map((w, g) => w * (variance[g]! + mean[g]! * mean[g]!));
  const mixed = (values: Float64Array): Float64Array => {
    spreadRates(values, spare);
    return values.map((value, g) => (1 - share) * value + share * spare[g]!);
  };
  const firstMixed = mixed(first);
  const secondMixed = mixed(second);
  const weightMixed = mixed(weight);
  for (let g = 0; g < POINTS; g++) {
    const w = Math.max(1e-300, weightMixed[g]!);
    weight[g] = w;
    const m = firstMixed[g]! / w;
    mean[g] = m;
    variance[g] = Math.max(1e-9, secondMixed[g]! / w - m * m);
  }
}

/** Keeps the largest weight at 1, so that a long past does not run out of numbers. */
export function rescale(state: FilterState): void {
  const { weight } = state;
  let largest = 0;
  for (let g = 0; g < POINTS; g++) if (weight[g]! > largest) largest = weight[g]!;
  if (!(largest > 0)) throw new RangeError('A reading has no likelihood under any rate');
  const scale = 1 / largest;
  for (let g = 0; g < POINTS; g++) weight[g] = weight[g]! * scale;
  state.logScale += Math.log(largest);
}
