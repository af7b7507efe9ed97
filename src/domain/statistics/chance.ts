/** A source of numbers in [0, 1). */
export interface Chance {
  unit(): number;
}

/** A number of the standard normal distribution. @see Box & Muller (1958), Ann. Math. Stat. 29(2), 610–611. */
export function standardNormal(chance: Chance): number {
  // 1 − u lies above 0.
  const radius = Math.sqrt(-2 * Math.log(1 - chance.unit()));
  return radius * Math.cos(2 * Math.PI * chance.unit());
}

/**
 * A number of the gamma distribution with this mean and variance; its shape is mean² / variance.
 *
 * @throws {RangeError} When the mean or the variance is below 0.
 * @see Marsaglia & Tsang (2000), A simple method for generating gamma variables, ACM TOMS 26(3), 363–372.
 */
export function gamma(mean: number, variance: number, chance: Chance): number {
  if (!(mean >= 0 && variance >= 0))
    throw new RangeError(`no gamma of mean ${mean} and variance ${variance}`);
  if (mean === 0 || variance === 0) return mean;
  const shape = (mean * mean) / variance;
  const scale = variance / mean;
  if (shape >= 1) return scale * gammaOfShape(shape, chance);
  // Below shape 1: one shape up, and down again by a power of a uniform number.
  const lowered = Math.exp(Math.log(1 - chance.unit()) / shape);
  return scale * gammaOfShape(shape + 1, chance) * lowered;
}

function gammaOfShape(shape: number, chance: Chance): number {
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const z = standardNormal(chance);
    const root = 1 + c * z;
    if (root <= 0) continue;
    const v = root * root * root;
    if (Math.log(1 - chance.unit()) < 0.5 * z * z + d * (1 - v + Math.log(v))) return d * v;
  }
}
