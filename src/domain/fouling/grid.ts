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

/**
 * Spreads values over the grid as a change of regime does: each point gets the mean of what may have been before it.
 * Flat values stay flat, so a change alone says nothing about the rate.
 * @param out May not be `values`.
 */
export function spreadRates(values: Float64Array, out: Float64Array): void {
  let carried = 0;
  for (let g = 0; g < POINTS; g++) {
    carried = values[g]! + DECAY * carried;
    out[g] = carried;
  }
  carried = 0;
  for (let g = POINTS - 1; g >= 0; g--) {
    out[g] = (out[g]! + DECAY * carried) * KERNEL_SCALE[g]!;
    carried = values[g]! + DECAY * carried;
  }
}

function kernelScales(): Float64Array {
  return Float64Array.from({ length: POINTS }, (_, g) => {
    let sum = 0;
    for (let j = 0; j < POINTS; j++) sum += Math.exp(Math.abs(g - j) * Math.log(DECAY));
    return 1 / sum;
  });
}
