import { expect, test } from 'vitest';
import { binomialBand } from '../../../src/domain/statistics/binomialBand.js';

test('of 20 tosses of a coin the central 95 % are 6 to 14', () => {
  // Tables of the binomial: P(X ≤ 5) = .0207, P(X ≤ 6) = .0577 at n = 20, p = .5.
  expect(binomialBand(20, 0.5)).toEqual({ low: 6 / 20, high: 14 / 20 });
});

/** The same by plain summing of all terms, each from the factorials. */
function plainBand(count: number, chance: number): { low: number; high: number } {
  const logFactorial = Array.from({ length: count + 1 }, () => 0);
  for (let i = 2; i <= count; i += 1) logFactorial[i] = (logFactorial[i - 1] ?? 0) + Math.log(i);
  const term = (k: number): number =>
    Math.exp(
      (logFactorial[count] ?? 0) -
        (logFactorial[k] ?? 0) -
        (logFactorial[count - k] ?? 0) +
        k * Math.log(chance) +
        (count - k) * Math.log(1 - chance),
    );
  let [low, below] = [0, term(0)];
  while (below <= 0.025) below += term(++low);
  let [high, above] = [count, term(count)];
  while (above <= 0.025) above += term(--high);
  return { low: low / count, high: high / count };
}

test('agrees with plain summing over counts and chances', () => {
  for (const count of [1, 2, 7, 40, 133, 400]) {
    for (const chance of [0.004, 0.1, 0.37, 0.5, 0.9, 0.996]) {
      expect(binomialBand(count, chance), `${count} at ${chance}`).toEqual(plainBand(count, chance));
    }
  }
});

test('a million cases at a tenth: about 1.96 standard errors either side', () => {
  // √(.1 × .9 / 1 000 000) = .0003; × 1.96 = .000588
  const { low, high } = binomialBand(1_000_000, 0.1);
  expect(low).toBeCloseTo(0.1 - 0.000588, 5);
  expect(high).toBeCloseTo(0.1 + 0.000588, 5);
});

test('what is certain has no band, and nonsense is refused', () => {
  expect(binomialBand(5, 0)).toEqual({ low: 0, high: 0 });
  expect(binomialBand(5, 1)).toEqual({ low: 1, high: 1 });
  expect(() => binomialBand(0, 0.5)).toThrow(RangeError);
  expect(() => binomialBand(5, Number.NaN)).toThrow(RangeError);
});
