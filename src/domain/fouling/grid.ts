/** Grid of log rates (fractions of the bore per day) on which every line's likelihood is held. */
export const POINTS = 57;
const LOW = Math.log(8e-6);
const HIGH = Math.log(0.04);
export const STEP = (HIGH - LOW) / (POINTS - 1);

export const LOG_RATES = Float64Array.from({ length: POINTS }, (_, g) => LOW + g * STEP);
export const RATES = LOG_RATES.map((theta) => Math.exp(theta));

/** Spread of log rate when a line's regime changes: about a factor of 2.5 up or down. */
const CHANGE_SD = 0.9;

/** Rates in even steps of their logarithm, and how a change of regime spreads belief over them. */
export interface RateGrid {
  points: number;
  logRates: Float64Array;
  rates: Float64Array;
  /** Of neighbouring points of a two-sided exponential; unlike a normal it costs one sweep each way. */
  decay: number;
  /** One over the sum of the kernel inside the grid around each point. */
  kernelScale: Float64Array;
}

/** Every rate of the grid. */
export const FINE = everyNth(1);
/**
 * Every second rate: the logarithm of what readings say runs so smoothly over the rates that a filter at these tells
 * the others too.
 */
export const KNOTS = everyNth(2);

function everyNth(n: number): RateGrid {
  const rates = RATES.filter((_, g) => g % n === 0);
  const decay = Math.exp((-n * STEP * Math.SQRT2) / CHANGE_SD);
  const kernelScale = rates.map((_, g) => {
    let sum = 0;
    for (let j = 0; j < rates.length; j++) sum += Math.exp(Math.abs(g - j) * Math.log(decay));
    return 1 / sum;
  });
  return {
    points: rates.length,
    logRates: LOG_RATES.filter((_, g) => g % n === 0),
    rates,
    decay,
    kernelScale,
  };
}

/** Sums over the slower and the faster rates so far: two runs side by side, since each waits for its own last value. */
const slower = new Float64Array(POINTS);
const faster = new Float64Array(POINTS);

function sumBothWays(values: Float64Array, { points, decay }: RateGrid): void {
  let up = 0;
  let down = 0;
  for (let g = 0; g < points; g++) {
    const h = points - 1 - g;
    up = values[g]! + decay * up;
    slower[g] = up;
    faster[h] = decay * down;
    down = values[h]! + decay * down;
  }
}

/**
 * Spreads values over the grid as a change of regime does: each point gets the mean of what may have been before it.
 * Flat values stay flat, so a change alone says nothing about the rate.
 */
export function spreadRates(values: Float64Array, out: Float64Array, grid = FINE): void {
  const { points, kernelScale } = grid;
  sumBothWays(values, grid);
  for (let g = 0; g < points; g++) out[g] = (slower[g]! + faster[g]!) * kernelScale[g]!;
}

/** What is believed of a rate before a change that nobody told of, by the rate after it. */
export interface ChangeKernel {
  grid: RateGrid;
  /** Belief about a rate of which nothing was found, the usual one 1. */
  usual: Float64Array;
  /** One over the sum of kernel and belief around each point. */
  scale: Float64Array;
}

/**
 * Rates before a change are drawn from what is usual, as those of lines that never changed are: else "it was extreme
 * until the last clean" would always be cheaper to believe than "it is extreme".
 * @param spread Standard deviation of the log rate; Infinity where any is as likely.
 */
export function changeKernel(grid: RateGrid, middle: number, spread: number): ChangeKernel {
  const usual = grid.logRates.map((theta) => Math.exp(-0.5 * ((theta - middle) / spread) ** 2) + UNHEARD_OF);
  sumBothWays(usual, grid);
  return { grid, usual, scale: usual.map((_, g) => 1 / (slower[g]! + faster[g]!)) };
}

/** Belief in the most unusual rate; keeps a sum of them from being nil. */
const UNHEARD_OF = 1e-9;

/** A change of regime that may have been, with chance `share`. */
export function mixRates(values: Float64Array, share: number, { grid, usual, scale }: ChangeKernel): void {
  const { points } = grid;
  for (let g = 0; g < points; g++) scaled[g] = values[g]! * usual[g]!;
  sumBothWays(scaled, grid);
  const kept = 1 - share;
  for (let g = 0; g < points; g++)
    values[g] = kept * values[g]! + share * scale[g]! * (slower[g]! + faster[g]!);
}

/**
 * What later findings say of the rate before such a change, from what they say of the rate after it: `mixRates`
 * the other way round.
 */
export function unmixRates(values: Float64Array, share: number, { grid, usual, scale }: ChangeKernel): void {
  const { points } = grid;
  for (let g = 0; g < points; g++) scaled[g] = values[g]! * scale[g]!;
  sumBothWays(scaled, grid);
  const kept = 1 - share;
  for (let g = 0; g < points; g++)
    values[g] = kept * values[g]! + share * usual[g]! * (slower[g]! + faster[g]!);
}

const scaled = new Float64Array(POINTS);

/**
 * Fills a row over the grid from one over the knots, in between by the quintic through the six nearest; `at` is where
 * the knots begin.
 */
export function fromKnots(knots: ArrayLike<number>, at: number, out: Float64Array): void {
  const last = at + KNOTS.points - 1;
  out[0] = knots[at]!;
  out[1] = besideEnd(knots, at, 1);
  out[2] = knots[at + 1]!;
  out[3] = halfway(knots, at + 1);
  for (let k = at + 2; k < last - 2; k++) {
    const g = 2 * (k - at);
    out[g] = knots[k]!;
    out[g + 1] =
      (150 * (knots[k]! + knots[k + 1]!) -
        25 * (knots[k - 1]! + knots[k + 2]!) +
        3 * (knots[k - 2]! + knots[k + 3]!)) /
      256;
  }
  out[POINTS - 5] = knots[last - 2]!;
  out[POINTS - 4] = halfway(knots, last - 2);
  out[POINTS - 3] = knots[last - 1]!;
  out[POINTS - 2] = besideEnd(knots, last, -1);
  out[POINTS - 1] = knots[last]!;
}

/** Between knot k and the next by the cubic through the four nearest. */
const halfway = (knots: ArrayLike<number>, k: number): number =>
  (9 * (knots[k]! + knots[k + 1]!) - knots[k - 1]! - knots[k + 2]!) / 16;

/** The same between an end and the knot beside it. */
const besideEnd = (knots: ArrayLike<number>, end: number, inwards: number): number =>
  (5 * knots[end]! + 15 * knots[end + inwards]! - 5 * knots[end + 2 * inwards]! + knots[end + 3 * inwards]!) /
  16;
