import { expect, test } from 'vitest';
import { binned, histogram, quantile, quantilesOf } from '../../../src/domain/statistics/histogram.js';

test('bins of one round width from 0 hold every value once', () => {
  const values = Array.from({ length: 1000 }, (_, i) => ((i * 7919) % 1000) / 10_000);
  const bins = histogram(values, 20);
  // Nearly all below .099, in twenty bins: .005 each.
  expect(bins[0]).toEqual({ from: 0, to: 0.005, count: 50 });
  expect(bins.reduce((sum, { count }) => sum + count, 0)).toBe(1000);
});

test('the highest hundredth stands in the last bin', () => {
  const bins = histogram([...Array.from({ length: 199 }, (_, i) => i / 200), 50], 20);
  expect(bins.length).toBeLessThan(25);
  expect(bins.at(-1)?.count).toBeGreaterThan(0);
  expect(bins.reduce((sum, { count }) => sum + count, 0)).toBe(200);
});

test('a value on an edge belongs above it, whatever its last digit', () => {
  // .3 / .05 is a little below 6 in binary
  expect(binned([0.3, 0.15], 0.05, 20).findIndex(({ count }) => count > 0)).toBe(3);
  expect(binned([0.3], 0.05, 20)[6]).toEqual({ from: 0.3, to: 0.35, count: 1 });
});

test('no values, no bins; all alike, one bin with them', () => {
  expect(histogram([])).toEqual([]);
  expect(histogram([0, 0, 0]).reduce((sum, { count }) => sum + count, 0)).toBe(3);
  expect(() => histogram([-1])).toThrow(RangeError);
});

test('quantiles straight between neighbours', () => {
  // Place .5 · 3 = 1.5 between 2 and 4.
  expect(quantile([4, 1, 2, 9], 0.5)).toBe(3);
  expect(quantile([], 0.5)).toBeNull();
  expect(quantilesOf([5])).toEqual({ q10: 5, q50: 5, q90: 5 });
});
