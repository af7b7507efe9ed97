import { expect, test } from 'vitest';
import { Random } from '../../../src/domain/routing/random.js';
import { gamma, standardNormal } from '../../../src/domain/statistics/chance.js';

const COUNT = 40_000;

function moments(draw: () => number): { mean: number; variance: number; third: number } {
  const values = Array.from({ length: COUNT }, draw);
  const mean = values.reduce((sum, value) => sum + value, 0) / COUNT;
  const central = (power: number) => values.reduce((sum, value) => sum + (value - mean) ** power, 0) / COUNT;
  return { mean, variance: central(2), third: central(3) };
}

test('the standard normal has mean 0, variance 1 and no skewness', () => {
  const random = new Random(7);
  const { mean, variance, third } = moments(() => standardNormal(random));
  // Standard errors 1/√n, √(2/n), √(15/n): .005, .007, .019
  expect(Math.abs(mean)).toBeLessThan(0.02);
  expect(Math.abs(variance - 1)).toBeLessThan(0.03);
  expect(Math.abs(third)).toBeLessThan(0.08);
});

test.each([
  { mean: 2, variance: 0.5 },
  { mean: 0.1, variance: 0.1 },
  { mean: 0.001, variance: 0.00002 },
])('a gamma of mean $mean and variance $variance', (asked) => {
  const random = new Random(11);
  const { mean, variance, third } = moments(() => gamma(asked.mean, asked.variance, random));
  const shape = asked.mean ** 2 / asked.variance;
  expect(Math.abs(mean / asked.mean - 1)).toBeLessThan(4 / Math.sqrt(shape * COUNT));
  // The kurtosis of a gamma is 3 + 6 / shape, so the variance has the relative error √((2 + 6 / shape) / n).
  expect(Math.abs(variance / asked.variance - 1)).toBeLessThan(4 * Math.sqrt((2 + 6 / shape) / COUNT));
  // Skewness 2 / √shape.
  expect(third / asked.variance ** 1.5 / (2 / Math.sqrt(shape))).toBeGreaterThan(0.8);
});

test('nothing varies where there is no variance; below 0 is refused', () => {
  const random = new Random(1);
  expect(gamma(3, 0, random)).toBe(3);
  expect(gamma(0, 2, random)).toBe(0);
  expect(() => gamma(-1, 1, random)).toThrow(RangeError);
});
