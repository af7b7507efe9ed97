/** What pairs differ by in the mean, where 95 of 100 such intervals hold it, and whether that tells anything. */
export interface PairedDifference {
  mean: number;
  low: number;
  high: number;
  verdict: 'more' | 'fewer' | 'same' | 'cannot_be_told';
}

/** Fewer pairs tell nothing (common practice, no source). */
const LEAST_PAIRS = 4;

/**
 * Second less first of each pair, Student's interval about the mean.
 *
 * @throws {RangeError} When there is no pair, or one lacks its other half.
 */
export function pairedDifference(first: readonly number[], second: readonly number[]): PairedDifference {
  const count = first.length;
  if (count === 0 || second.length !== count)
    throw new RangeError(`not pairs: ${count} and ${second.length}`);
  const differences = second.map((value, i) => value - (first[i] ?? 0));
  const mean = differences.reduce((sum, each) => sum + each, 0) / count;
  if (differences.every((each) => each === 0)) return { mean: 0, low: 0, high: 0, verdict: 'same' };
  if (count < LEAST_PAIRS)
    return { mean, low: Math.min(...differences), high: Math.max(...differences), verdict: 'cannot_be_told' };
  const variance = differences.reduce((sum, each) => sum + (each - mean) ** 2, 0) / (count - 1);
  const off = studentQuantile(count - 1) * Math.sqrt(variance / count);
  const [low, high] = [mean - off, mean + off];
  return { mean, low, high, verdict: low > 0 ? 'more' : high < 0 ? 'fewer' : 'cannot_be_told' };
}

const Z = 1.959964;

/**
 * Student's 97.5 % point, from the normal one; within 4 % from 3 degrees of freedom on, 0.4 % from 7.
 * @see Abramowitz & Stegun (1964), 26.7.5.
 */
function studentQuantile(degrees: number): number {
  const z2 = Z * Z;
  return (
    Z +
    (Z * (z2 + 1)) / (4 * degrees) +
    (Z * (5 * z2 * z2 + 16 * z2 + 3)) / (96 * degrees ** 2) +
    (Z * (3 * z2 ** 3 + 19 * z2 * z2 + 17 * z2 - 15)) / (384 * degrees ** 3)
  );
}
