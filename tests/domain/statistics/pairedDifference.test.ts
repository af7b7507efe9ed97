import { expect, test } from 'vitest';
import { pairedDifference } from '../../../src/domain/statistics/pairedDifference.js';

test('the mean of the differences with its interval tells more or fewer only where zero lies outside', () => {
  // Differences 1, 2, 3, 4: mean 2.5, standard error √(5/3 / 4) = .6455, Student at 3 degrees 3.182: 2.5 ± 2.054.
  const told = pairedDifference([10, 10, 10, 10], [11, 12, 13, 14]);
  expect(told.mean).toBe(2.5);
  expect(told.low).toBeCloseTo(2.5 - 2.054, 1);
  expect(told.high).toBeCloseTo(2.5 + 2.054, 1);
  expect(told.verdict).toBe('more');
  expect(pairedDifference([11, 12, 13, 14], [10, 10, 10, 10]).verdict).toBe('fewer');
  // Differences 3, -1, 0, 1: mean .75, standard error .854: zero lies inside.
  expect(pairedDifference([0, 1, 1, 0], [3, 0, 1, 1]).verdict).toBe('cannot_be_told');
});

test('pairs, not the spread between them, decide', () => {
  // The runs differ by hundreds, each pair by about one.
  expect(pairedDifference([100, 300, 500, 700, 900], [101, 301.2, 500.9, 701.1, 900.8]).verdict).toBe('more');
});

test('equal pairs are the same; three pairs tell nothing; what is no pair is refused', () => {
  expect(pairedDifference([1, 2], [1, 2])).toEqual({ mean: 0, low: 0, high: 0, verdict: 'same' });
  expect(pairedDifference([1, 2, 3], [9, 10, 12])).toMatchObject({
    low: 8,
    high: 9,
    verdict: 'cannot_be_told',
  });
  expect(() => pairedDifference([], [])).toThrow(RangeError);
  expect(() => pairedDifference([1], [1, 2])).toThrow(RangeError);
});
