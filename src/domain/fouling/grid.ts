/** Grid of log rates (fractions of the bore per day) on which every line's likelihood is held. */
export const POINTS = 57;
const LOW = Math.log(8e-6);
const HIGH = Math.log(0.04);
export const STEP = (HIGH - LOW) / (POINTS - 1);

export const LOG_RATES = Float64Array.from({ length: POINTS }, (_, g) => LOW + g * STEP);
export const RATES = LOG_RATES.map((theta) => Math.exp(theta));

/** Spread of log rate when a line's regime changes: about a factor of 2.5 up or down. */
const CHANGE_SD = 0.9;

/**
 * Row g: where the log rate may have been before a change, given that it is point g after it. Rows add to 1, so a
 * flat likelihood stays flat and a change alone says nothing about the rate.
 */
export const CHANGE_KERNEL = changeKernel();

function changeKernel(): Float64Array {
  const kernel = new Float64Array(POINTS * POINTS);
  for (let g = 0; g < POINTS; g++) {
    let sum = 0;
    for (let j = 0; j < POINTS; j++) {
      const z = ((g - j) * STEP) / CHANGE_SD;
      const value = Math.exp(-0.5 * z * z);
      kernel[g * POINTS + j] = value;
      sum += value;
    }
    for (let j = 0; j < POINTS; j++) kernel[g * POINTS + j] = kernel[g * POINTS + j]! / sum;
  }
  return kernel;
}
