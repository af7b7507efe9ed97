import { LOOK_ERROR_WHEN_CLEAN, LOOK_SEES_MUCH, SHARE_ERROR } from '../readings/occlusionOf.js';
import { daysLost, lostVariance } from './cleanLag.js';
import { freshRow } from './freshRow.js';
import {
  type ChangeKernel,
  changeKernel,
  FINE,
  fromKnots,
  KNOTS,
  mixRates,
  POINTS,
  type RateGrid,
} from './grid.js';
import { type GrowthShape, HIGH_X, LOW_X, STEPS_PER_X, slopeAt } from './growthShape.js';
import { AT_LEAST, AT_MOST, CLEAN, EXACT, type LineSteps, MARK, PLUGGED, REGIME } from './lineSteps.js';
import { expOfMinus, normalCdf, tabledCdf, tabledDensity, tabledRatio } from './normal.js';
import type { ShapeParameters } from './shapeParameters.js';

/** A bore this full is plugged. */
const FULL = 0.96;
/** A new pipe holds next to nothing. */
const NEW_MEAN = 0.01;
const NEW_SD = 0.01;
/**
 * How slips come about, in equal parts for want of a source: any number at all; free bore entered for blocked bore,
 * which still tells the level; a per cent divided by a hundred once more, which lands at 0.
 */
export const SLIP_KINDS = { anything: 1 / 3, freeBore: 1 / 3, dividedTwice: 1 / 3 };
/** Squares of standard deviations beyond which another kind of slip is the likelier by far, a confirmed reading's too. */
const OUT_OF_SIGHT = 60;
/** A confirmed reading is no slip; where it does not fit, the deposit came or went at once: so seldom (no source). */
const AT_ONCE = 1e-4;
const ROOT_TWO_PI = 2.5066282746310002;

/** For every rate of a grid what the readings make of the level, and how likely they are. */
export interface FilterState {
  grid: RateGrid;
  mean: Float64Array;
  variance: Float64Array;
  /** Likelihood, without the factor exp(logScale). */
  weight: Float64Array;
  logScale: number;
  /** As much of `weight` as has had this rate all along. */
  unchanged: Float64Array;
  /** Distance from full at the last mark, in standard deviations. */
  full: Float64Array;
  /** Of the reading or plug taken in last: the chance that it was no slip; and the least such chance of all so far. */
  right: Float64Array;
  leastRight: Float64Array;
}

export function filterState(grid = FINE): FilterState {
  const row = (): Float64Array => freshRow(grid.points);
  return {
    grid,
    mean: row(),
    variance: row(),
    weight: row(),
    logScale: 0,
    unchanged: row(),
    full: row(),
    right: row(),
    leastRight: row(),
  };
}

export function startState(state: FilterState, clean: boolean, parameters: ShapeParameters): void {
  state.mean.fill(clean ? NEW_MEAN : parameters.unknownMean);
  state.variance.fill(clean ? NEW_SD * NEW_SD : parameters.unknownSd * parameters.unknownSd);
  state.weight.fill(1);
  state.unchanged.fill(1);
  state.leastRight.fill(1);
  state.logScale = 0;
}

/** What the filter held after each step of a line, at each rate: weights but for a factor, and `right` of its readings. */
export interface FilterTrace {
  weight: Float64Array;
  right: Float64Array;
}

/** Runs the readings of line i through the filter; the state ends on the day of its last step. */
export function filterLine(
  steps: LineSteps,
  i: number,
  shape: GrowthShape,
  parameters: ShapeParameters,
  state: FilterState,
  trace: FilterTrace | null = null,
): void {
  startState(state, steps.startsClean[i] === 1, parameters);
  const end = steps.first[i + 1]!;
  let updates = 0;
  for (let s = steps.first[i]!; s < end; s++) {
    filterStep(steps, s, shape, parameters, state);
    if (++updates % 4 === 0) rescale(state);
    if (trace === null) continue;
    const at = (s - steps.first[i]!) * state.grid.points;
    trace.weight.set(state.weight, at);
    trace.right.set(state.right, at);
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
    const age = steps.age[s]!;
    const lost = daysLost(parameters.lagDays, age, days);
    const lostSquare = lostVariance(parameters.lagDays, age, days);
    grow(
      state,
      shape,
      Math.max(0, grown - lost),
      parameters.growthNoise,
      parameters.timeNoise * days,
      lostSquare,
    );
  }
  const action = steps.action[s]!;
  if (action <= AT_LEAST) {
    const confirmed = steps.confirmed[s] === 1;
    const slip = confirmed ? AT_ONCE : parameters.grossShare;
    notPlugged(state, slip);
    readingErrors(state.mean, steps, s, parameters);
    const called = steps.called[s] === 1;
    if (called) beforeCall(state);
    if (action !== EXACT) readBound(state, steps.value[s]!, slip, action === AT_MOST, confirmed);
    else if (confirmed) readConfirmed(state, steps.value[s]!);
    else readExact(state, steps.value[s]!, slip);
    if (called) calledFor(state, shape, parameters);
    if (!confirmed) keepLeast(state);
  } else if (action === CLEAN || action === REGIME) {
    if (action === CLEAN) clean(state, parameters);
    change(state, changedShare(steps, s, parameters), action === REGIME, kernelOf(parameters, state.grid));
  } else if (action === MARK) {
    for (let g = 0; g < state.grid.points; g++) {
      state.full[g] = (state.mean[g]! - FULL) / Math.sqrt(state.variance[g]!);
    }
  } else if (action === PLUGGED) {
    const sure = steps.confirmed[s] === 1;
    foundPlugged(state, steps.value[s]!, sure);
    if (!sure) keepLeast(state);
  }
}

/** Chance that a clean or a told change of regime leaves another rate than before; 0 for other steps. A confirmed plug tells of one. */
export function changedShare(steps: LineSteps, s: number, parameters: ShapeParameters): number {
  const action = steps.action[s]!;
  if (action === REGIME || (action === CLEAN && steps.confirmed[s] === 1)) return 0.5;
  return action === CLEAN ? -Math.expm1(-parameters.changesPerYear * Math.min(steps.value[s]!, 10)) : 0;
}

const kernels = new WeakMap<ShapeParameters, ChangeKernel[]>();

/** Made once for each set of parameters and grid. */
export function kernelOf(parameters: ShapeParameters, grid: RateGrid): ChangeKernel {
  const held = kernels.get(parameters) ?? [];
  kernels.set(parameters, held);
  for (const kernel of held) if (kernel.grid === grid) return kernel;
  const made = changeKernel(grid, parameters.usualLogRate, parameters.usualSpread);
  held.push(made);
  return made;
}

/** By how much the error of a look grows from a line that shows much to a clean one. */
const LOOK_WIDENS = LOOK_ERROR_WHEN_CLEAN / SHARE_ERROR.outlet_look - 1;

/** Error variance of the reading at hand, rounding included, at each rate's level. */
const error = new Float64Array(POINTS);

/** A look tells less where there is little to see. */
function readingErrors(mean: Float64Array, steps: LineSteps, s: number, parameters: ShapeParameters): void {
  const method = steps.method[s]!;
  const factor =
    method === 0 ? parameters.cameraFactor : method === 1 ? parameters.lookFactor : parameters.otherFactor;
  const variance = steps.variance[s]! * factor * factor;
  const rounding = steps.rounding[s]!;
  if (method !== 1) {
    error.fill(variance + rounding);
    return;
  }
  const blindness = LOOK_WIDENS * parameters.lookBlindness;
  for (let g = 0; g < mean.length; g++) {
    const seen = mean[g]! * (1 / LOOK_SEES_MUCH);
    const wider = 1 + blindness * (seen < 0 ? 1 : seen > 1 ? 0 : 1 - seen);
    error[g] = variance * wider * wider + rounding;
  }
}

/** Variance of a level that is either 0 or 1: none within the bore has more. */
const WIDEST = 0.25;

/** Lets every rate of the grid grow over season-weighted days. */
export function grow(
  state: Pick<FilterState, 'grid' | 'mean' | 'variance'>,
  shape: GrowthShape,
  seasonDays: number,
  growthNoise: number,
  timeVariance: number,
  lostDaysVariance = 0,
): void {
  const { mean, variance } = state;
  const { points, rates } = state.grid;
  const { yOfX, slopeOfX, xOfY, slopeOfY, lowY, stepsPerY } = shape;
  const lastY = xOfY.length - 2;
  let from = Number.NaN;
  let y = 0;
  let perSlope = 0;
  for (let g = 0; g < points; g++) {
    const m = mean[g]!;
    // After a clean most rates begin at the same level.
    if (m !== from) {
      from = m;
      const place = (Math.max(LOW_X, Math.min(HIGH_X, m)) - LOW_X) * STEPS_PER_X;
      const k = place | 0;
      const part = place - k;
      y = yOfX[k]! + part * (yOfX[k + 1]! - yOfX[k]!);
      perSlope = 1 / (slopeOfX[k]! + part * (slopeOfX[k + 1]! - slopeOfX[k]!));
    }
    const growth = rates[g]! * seasonDays;
    const place = Math.min(lastY, (y + growth - lowY) * stepsPerY);
    const k = place | 0;
    const part = place - k;
    const slope = slopeOfY[k]! + part * (slopeOfY[k + 1]! - slopeOfY[k]!);
    const stretch = slope * perSlope;
    mean[g] = xOfY[k]! + part * (xOfY[k + 1]! - xOfY[k]!);
    const spread =
      variance[g]! * stretch * stretch +
      (growthNoise * growth + timeVariance + lostDaysVariance * rates[g]! * rates[g]!) * slope * slope +
      1e-9;
    variance[g] = Math.min(spread, WIDEST);
  }
}

function readExact(state: FilterState, value: number, slip: number): void {
  const { mean, variance, weight, unchanged, right } = state;
  const keep = (1 - slip) / ROOT_TWO_PI;
  const turn = (slip * SLIP_KINDS.freeBore) / ROOT_TWO_PI;
  const blind = slip * SLIP_KINDS.anything;
  for (let g = 0; g < mean.length; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const perTotal = 1 / (p + error[g]!);
    const away = value - m;
    const awayTurned = 1 - value - m;
    const far = away * away * perTotal;
    const farTurned = awayTurned * awayTurned * perTotal;
    if (far > OUT_OF_SIGHT && farTurned > OUT_OF_SIGHT) {
      weight[g] = weight[g]! * blind;
      unchanged[g] = unchanged[g]! * blind;
      right[g] = 0;
      continue;
    }
    const perSd = Math.sqrt(perTotal);
    const straight = keep * expOfMinus(0.5 * far) * perSd;
    const turned = farTurned > OUT_OF_SIGHT ? 0 : turn * expOfMinus(0.5 * farTurned) * perSd;
    const all = straight + turned + blind;
    const perAll = 1 / all;
    const share = straight * perAll;
    const shareTurned = turned * perAll;
    const gain = p * perTotal;
    const shift = gain * away;
    const shiftTurned = gain * awayTurned;
    const moved = share * shift + shareTurned * shiftTurned;
    mean[g] = m + moved;
    variance[g] =
      p * (1 - (share + shareTurned) * gain) +
      share * shift * shift +
      shareTurned * shiftTurned * shiftTurned -
      moved * moved;
    weight[g] = weight[g]! * all;
    unchanged[g] = unchanged[g]! * all;
    right[g] = right[g]! * share;
  }
}

/** What a person stands by: under rates that did not expect it, the level is what was read all the same. */
function readConfirmed({ mean, variance, weight, unchanged, right }: FilterState, value: number): void {
  for (let g = 0; g < mean.length; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const perTotal = 1 / (p + error[g]!);
    const away = value - m;
    const straight =
      ((1 - AT_ONCE) / ROOT_TWO_PI) * expOfMinus(0.5 * away * away * perTotal) * Math.sqrt(perTotal);
    const all = straight + AT_ONCE;
    const share = straight / all;
    const gain = p * perTotal;
    const moved = away * (share * gain + 1 - share);
    mean[g] = m + moved;
    const own = (1 - gain) * away;
    variance[g] = share * p * (1 - gain) + (1 - share) * error[g]! + share * (1 - share) * own * own;
    weight[g] = weight[g]! * all;
    unchanged[g] = unchanged[g]! * all;
    right[g] = 1;
  }
}

function keepLeast({ right, leastRight }: FilterState): void {
  for (let g = 0; g < right.length; g++) if (right[g]! < leastRight[g]!) leastRight[g] = right[g]!;
}

/**
 * The level is at most (or at least) the value, give or take the reading's error.
 * @param confirmed Then it stands there where it was not expected within the bound.
 */
function readBound(
  state: FilterState,
  value: number,
  slip: number,
  below: boolean,
  confirmed: boolean,
): void {
  const { mean, variance, weight, unchanged, right } = state;
  const sign = below ? -1 : 1;
  const anything = SLIP_KINDS.anything * (below ? value : 1 - value) + (below ? SLIP_KINDS.dividedTwice : 0);
  const wrong = confirmed ? slip : slip * anything;
  const turn = confirmed ? 0 : slip * SLIP_KINDS.freeBore;
  for (let g = 0; g < mean.length; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const perSd = 1 / Math.sqrt(p + error[g]!);
    const z = sign * (m - value) * perSd;
    const straight = (1 - slip) * tabledCdf(z);
    // "At most nothing" turned is "at least full".
    const zTurned = sign * (1 - value - m) * perSd;
    const turned = zTurned < -6 ? 0 : turn * tabledCdf(zTurned);
    const both = straight + wrong + turned;
    const share = straight / both;
    const ratio = tabledRatio(z);
    const pull = p * perSd;
    const shift = sign * ratio * pull;
    const cut = pull * pull * ratio * (ratio + z);
    if (confirmed) {
      const apart = value - m - shift;
      mean[g] = m + share * shift + (1 - share) * (value - m);
      variance[g] =
        share * (p - Math.min(cut, 0.99 * p)) + (1 - share) * error[g]! + share * (1 - share) * apart * apart;
    } else {
      mean[g] = m + share * shift;
      variance[g] = p - share * Math.min(cut, 0.99 * p) + share * (1 - share) * shift * shift;
    }
    weight[g] = weight[g]! * both;
    unchanged[g] = unchanged[g]! * both;
    right[g] = confirmed ? 1 : right[g]! * share;
  }
}

/** Mean and variance of the level before the reading of a call was taken in. */
const expectedMean = new Float64Array(POINTS);
const expectedVariance = new Float64Array(POINTS);

function beforeCall({ mean, variance }: FilterState): void {
  expectedMean.set(mean);
  expectedVariance.set(variance);
}

/** At the least, this part of the speed of the mean. */
const SLOWEST_PASSING = 0.1;

/**
 * The level chose the day: what was seen is the day on which it passed a level, not the level on a day. A fast line
 * passes any level within fewer days, so its likelihood on each is the greater, by the speed with which the chance of
 * being past the level rises: d/dt Φ((m − c)/√P) over the density is m′ + (c − m) P′/2P. At which level people call
 * nobody knows; were it the same each time, a steeper law would earn nothing by it, for its density is thinner by as
 * much: as far as the spread is the line's and not the reading's.
 */
function calledFor(state: FilterState, shape: GrowthShape, parameters: ShapeParameters): void {
  const { mean, weight, unchanged } = state;
  const { rates } = state.grid;
  for (let g = 0; g < mean.length; g++) {
    const slope = slopeAt(shape, mean[g]!);
    const p = expectedVariance[g]!;
    const noise = (parameters.growthNoise * rates[g]! + parameters.timeNoise) * slope;
    const speed = rates[g]! + ((mean[g]! - expectedMean[g]!) * noise) / (2 * p);
    const ownPart = p / (p + error[g]!);
    const likelihood = Math.max(SLOWEST_PASSING * rates[g]!, speed) * Math.exp(ownPart * Math.log(slope));
    weight[g] = weight[g]! * likelihood;
    unchanged[g] = unchanged[g]! * likelihood;
  }
}

/** Somebody measured how much of the bore was left: it was not plugged, unless that was a slip. */
function notPlugged(state: FilterState, slip: number): void {
  const { mean, variance, weight, unchanged, right } = state;
  for (let g = 0; g < mean.length; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const room = FULL - m;
    if (room > 0 && room * room > 16 * p) {
      right[g] = 1;
      continue;
    }
    const sd = Math.sqrt(p);
    const z = room / sd;
    const open = (1 - slip) * tabledCdf(z);
    const both = open + slip;
    const share = open / both;
    const ratio = tabledRatio(z);
    const shift = ratio * sd;
    mean[g] = m - share * shift;
    variance[g] =
      p - share * Math.min(p * ratio * (ratio + z), 0.99 * p) + share * (1 - share) * shift * shift;
    weight[g] = weight[g]! * both;
    unchanged[g] = unchanged[g]! * both;
    right[g] = share;
  }
}

/**
 * It filled up since the mark: it was not full then and is now, unless something else stopped it.
 * @param sure A person confirmed that it is full: at every rate, however unlikely that rate makes it.
 */
function foundPlugged(state: FilterState, slip: number, sure: boolean): void {
  const { mean, variance, weight, unchanged, full, right } = state;
  for (let g = 0; g < mean.length; g++) {
    const m = mean[g]!;
    const p = variance[g]!;
    const sd = Math.sqrt(p);
    const z = (m - FULL) / sd;
    const before = full[g]!;
    const passed = before > 0 ? normalCdf(-before) - normalCdf(-z) : normalCdf(z) - normalCdf(before);
    const deposit = (1 - slip) * Math.max(0, passed);
    const both = deposit + slip * 0.05;
    const share = sure ? 1 : deposit / both;
    const ratio = tabledRatio(z);
    const shift = ratio * sd;
    const cut = p * ratio * (ratio + z);
    mean[g] = Math.min(HIGH_X, m + share * shift);
    variance[g] = p - share * Math.min(cut, 0.99 * p) + share * (1 - share) * shift * shift;
    weight[g] = weight[g]! * both;
    unchanged[g] = unchanged[g]! * both;
    right[g] = share;
  }
}

/**
 * A clean leaves its residue, or what was there if that was less: the lesser of two normals, as a normal.
 * @see Clark (1961), The greatest of a finite set of random variables, Oper. Res. 9(2), 145–162.
 */
function clean(state: FilterState, parameters: ShapeParameters): void {
  const { mean, variance } = state;
  const left = parameters.residualMean;
  const spread = parameters.residualSd * parameters.residualSd;
  for (let g = 0; g < mean.length; g++) {
    const m = Math.max(mean[g]!, 0);
    const p = variance[g]!;
    const over = m - left;
    if (over > 0 && over * over > 25 * (p + spread)) {
      mean[g] = left;
      variance[g] = spread;
      continue;
    }
    const a = Math.sqrt(p + spread);
    const z = over / a;
    const cleaned = tabledCdf(z);
    const touch = a * tabledDensity(z);
    const least = m * (1 - cleaned) + left * cleaned - touch;
    const square = (m * m + p) * (1 - cleaned) + (left * left + spread) * cleaned - (m + left) * touch;
    mean[g] = Math.max(0, least);
    variance[g] = Math.max(1e-6, Math.min(square - least * least, 0.5 * least * least));
  }
}

/**
 * The rate may be another from now on.
 * @param share     Chance that it is.
 * @param withLevel Whether the level depends on the rate: not after a clean.
 */
function change(state: FilterState, share: number, withLevel: boolean, kernel: ChangeKernel): void {
  if (share < 1e-5) return;
  const { mean, variance, weight, unchanged } = state;
  for (let g = 0; g < unchanged.length; g++) unchanged[g] = unchanged[g]! * (1 - share);
  if (!withLevel) {
    mixRates(weight, share, kernel);
    return;
  }
  rescale(state);
  const first = weight.map((w, g) => w * mean[g]!);
  const second = weight.map((w, g) => w * (variance[g]! + mean[g]! * mean[g]!));
  mixRates(first, share, kernel);
  mixRates(second, share, kernel);
  mixRates(weight, share, kernel);
  for (let g = 0; g < weight.length; g++) {
    const w = Math.max(1e-300, weight[g]!);
    weight[g] = w;
    const m = first[g]! / w;
    mean[g] = m;
    variance[g] = Math.max(1e-9, second[g]! / w - m * m);
  }
}

/** Keeps the largest weight at 1, so that a long past does not run out of numbers. */
export function rescale(state: FilterState): void {
  const { weight, unchanged } = state;
  let largest = 0;
  for (let g = 0; g < weight.length; g++) if (weight[g]! > largest) largest = weight[g]!;
  if (!(largest > 0)) throw new RangeError('A reading has no likelihood under any rate');
  const scale = 1 / largest;
  for (let g = 0; g < weight.length; g++) {
    weight[g] = weight[g]! * scale;
    unchanged[g] = unchanged[g]! * scale;
  }
  state.logScale += Math.log(largest);
}

/**
 * Logarithm of the likelihood at every rate, from a filter over KNOTS: of what never changed and of what did each by
 * itself, for where one takes over from the other the sum has a bend.
 */
export function logWeights({ weight, unchanged }: FilterState, out: Float64Array): void {
  for (let k = 0; k < KNOTS.points; k++) {
    logUnchanged[k] = Math.log(unchanged[k]! + LEAST);
    logChanged[k] = Math.log(Math.max(0, weight[k]! - unchanged[k]!) + LEAST);
  }
  fromKnots(logUnchanged, 0, out);
  fromKnots(logChanged, 0, changedOut);
  for (let g = 0; g < POINTS; g++) {
    const a = out[g]!;
    const b = changedOut[g]!;
    out[g] = a > b ? a + Math.log(1 + expOfMinus(a - b)) : b + Math.log(1 + expOfMinus(b - a));
  }
}

const LEAST = 1e-300;
const logUnchanged = new Float64Array(KNOTS.points);
const logChanged = new Float64Array(KNOTS.points);
const changedOut = new Float64Array(POINTS);
