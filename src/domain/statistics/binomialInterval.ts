/** Of the standard normal distribution: 95 % lie within so many deviations. */
const Z = 1.959964;

/**
 * The 95 % interval of a chance of which `hits` of `count` independent cases came true, by Wilson's score.
 *
 * @throws {RangeError} When `count` is below 1 or `hits` does not lie between 0 and it.
 * @see Wilson (1927), J. Am. Stat. Assoc. 22(158), 209–212.
 */
export function binomialInterval(hits: number, count: number): { low: number; high: number } {
  if (!(count >= 1 && hits >= 0 && hits <= count)) throw new RangeError(`no share: ${hits} of ${count}`);
  const share = hits / count;
  const middle = share + (Z * Z) / (2 * count);
  const half = Z * Math.sqrt((share * (1 - share)) / count + (Z / (2 * count)) ** 2);
  const whole = 1 + (Z * Z) / count;
  return { low: Math.max(0, (middle - half) / whole), high: Math.min(1, (middle + half) / whole) };
}
