/** Grid of log rates (fractions of the bore per day) on which every line's likelihood is held. */
export const POINTS = 57;
const LOW = Math.log(8e-6);
const HIGH = Math.log(0.04);
export const STEP = (HIGH - LOW) / (POINTS - 1);

export const LOG_RATES = Float64Array.from({ length: POINTS }, (_, g) => LOW + g * STEP);
export const RATES = LOG_RATES.map((theta) => Math.exp(theta));

/** Spread of log rate when a line's regime changes: about a factor of 2.5 up or down. */
const CHANGE_SD = 0.9;
/** Neighbouring points of a two-sided exponential of that spread; unlike a normal it costs one sweep each way. */
const DECAY = Math.exp((-STEP * Math.SQRT2) / CHANGE_SD);

/** One over the sum of the kernel inside the grid around each point. */
const KERNEL_SCALE = kernelScales();

/** Sums over the slower and the faster rates so far: two runs side by side, since each waits for its own last value. */
const slower = new Float64Array(POINTS);
const faster = new Float64Array(POINTS);

function sumBothWays(values: Float64Array): void {
  let up = 0;
  let down = 0;
  for (let g = 0; g < POINTS; g++) {
    const h = POINTS - 1 - g;
    up = values[g]! + DECAY * up;
    slower[g] = up;
    faster[h] = DECAY * down;
    down = values[h]! + DECAY * down;
  }
}

/**
 * Spreads values over the grid as a change of regime does: each point gets the mean of what may have been before it.
 * Flat values stay flat, so a change alone says nothing about the rate.
 */
export function spreadRates(values: Float64Array, out: Float64Array): void {
  sumBothWays(values);
  for (let g = 0; g < POINTS; g++) out[g] = (slower[g]! + faster[g]!) * KERNEL_SCALE[g]!;
}

/** A change of regime that may have been, with chance `share`. */
export function mixRates(values: Float64Array, share: number): void {
  sumBothWays(values);
  const kept = 1 - share;
  for (let g = 0; g < POINTS; g++)
    values[g] = kept * values[g]! + share * KERNEL_SCALE[g]! * (slower[g]! + faster[g]!);
}

/**
 * What later findings say of the rate before such a change, from what they say of the rate after it: `mixRates`
 * the other way round.
 */
export function unmixRates(values: Float64Array, share: number): void {
  for (let g = 0; g < POINTS; g++) scaled[g] = values[g]! * KERNEL_SCALE[g]!;
  sumBothWays(scaled);
  const kept = 1 - share;
  for (let g = 0; g < POINTS; g++) values[g] = kept * values[g]! + share * (slower[g]! + faster[g]!);
}

const scaled = new Float64Array(POINTS);

function kernelScales(): Float64Array {
  return Float64Array.from({ length: POINTS }, (_, g) => {
    let sum = 0;
    for (let j = 0; j < POINTS; j++) sum += Math.exp(Math.abs(g - j) * Math.log(DECAY));
    return 1 / sum;
  });
}
