import { expect, test } from 'vitest';
import { POINTS } from '../../../src/domain/fouling/grid.js';
import { levelMoments, levelQuantiles } from '../../../src/domain/fouling/lineLevel.js';

/** Half the belief at each of two levels, alike at all rates. */
const of = (mean: number, sd: number) => ({
  weight: new Float64Array(POINTS).fill(1),
  state: { mean: new Float64Array(POINTS).fill(mean), variance: new Float64Array(POINTS).fill(sd * sd) },
});

test('well within the bore the moments are the plain ones', () => {
  const { mean, sd } = levelMoments([of(0.4, 0.05), of(0.6, 0.05)]);
  expect(mean).toBeCloseTo(0.5, 9);
  expect(sd).toBeCloseTo(Math.sqrt(0.1 ** 2 + 0.05 ** 2), 9);
});

test('around full, half of it beyond: mean 1 − s φ(0), variance s² (½ − φ(0)²)', () => {
  const { mean, sd } = levelMoments([of(1, 0.1)]);
  const density = 1 / Math.sqrt(2 * Math.PI);
  expect(mean).toBeCloseTo(1 - 0.1 * density, 5);
  expect(sd).toBeCloseTo(0.1 * Math.sqrt(0.5 - density ** 2), 5);
});

test('no level within a bore spreads by more than its mean leaves room for: sd² ≤ mean (1 − mean)', () => {
  for (const level of [-0.5, 0, 0.3, 0.9, 1, 1.2, 1.4])
    for (const spread of [0.01, 0.1, 0.3, 0.5]) {
      const { mean, sd } = levelMoments([of(level, spread)]);
      expect(sd * sd).toBeLessThanOrEqual(mean * (1 - mean) + 1e-5);
    }
  // an old line of which nothing is known but that it is likely plugged
  expect(levelMoments([of(1.4, 0.5)]).sd).toBeLessThan(0.2);
});

test('moments and quantiles are of one distribution: those summed over the quantiles are the moments', () => {
  const chances = Array.from({ length: 1000 }, (_, i) => (i + 0.5) / 1000);
  const mixtures = [
    [of(1.2, 0.5)],
    [of(0, 0.2)],
    [of(0.3, 0.1), of(0.9, 0.4)],
    [of(-0.2, 0.3), of(1.1, 0.2), of(0.5, 0.05)],
  ];
  for (const parts of mixtures) {
    const { mean, sd } = levelMoments(parts);
    const quantiles = levelQuantiles(parts, chances);
    const first = quantiles.reduce((sum, x) => sum + x, 0) / 1000;
    const second = quantiles.reduce((sum, x) => sum + x * x, 0) / 1000;
    expect(first).toBeCloseTo(mean, 2);
    expect(Math.sqrt(second - first * first)).toBeCloseTo(sd, 2);
  }
  // Normal about 1.2 with sd .5: the tenth at 1.2 − 1.2816 × .5, the ninth decile at the bore's end.
  const [low = 0, high = 0] = levelQuantiles([of(1.2, 0.5)], [0.1, 0.9]);
  expect(low).toBeCloseTo(0.559, 3);
  expect(high).toBeCloseTo(1, 3);
});
