import { expect, test } from 'vitest';
import {
  changeKernel,
  FINE,
  mixRates,
  POINTS,
  spreadRates,
  unmixRates,
} from '../../../src/domain/fouling/grid.js';
import { expOfMinus, hazardRatio, tabledRatio } from '../../../src/domain/fouling/normal.js';

test('the quick exponential is the exact one, to eleven digits', () => {
  for (let u = 0; u < 64; u += 0.0137) expect(Math.abs(expOfMinus(u) / Math.exp(-u) - 1)).toBeLessThan(1e-11);
  expect([expOfMinus(0), expOfMinus(64), expOfMinus(1e9), expOfMinus(Number.POSITIVE_INFINITY)]).toEqual([
    1, 0, 0, 0,
  ]);
});

test('the quick hazard ratio is the exact one, far out too', () => {
  for (let z = -20; z < 10; z += 0.0037) expect(Math.abs(tabledRatio(z) - hazardRatio(z))).toBeLessThan(2e-6);
});

const uneven = (seed: number) =>
  Float64Array.from({ length: POINTS }, (_, g) => 1 + Math.sin(seed + 1.7 * g) ** 2 * g);
const product = (a: Float64Array, b: Float64Array) => a.reduce((sum, x, g) => sum + x * b[g]!, 0);

const USUAL = changeKernel(FINE, Math.log(0.001), 1);
const ANY = changeKernel(FINE, 0, Number.POSITIVE_INFINITY);

test('a change of regime says nothing of a rate nobody knows, and is the same seen from either side', () => {
  const even = new Float64Array(POINTS).fill(3);
  mixRates(even, 0.4, USUAL);
  for (const x of even) expect(x).toBeCloseTo(3, 12);

  for (const kernel of [USUAL, ANY]) {
    const [before, after] = [uneven(1), uneven(2)];
    const [mixed, unmixed] = [Float64Array.from(before), Float64Array.from(after)];
    mixRates(mixed, 0.3, kernel);
    unmixRates(unmixed, 0.3, kernel);
    expect(product(mixed, after)).toBeCloseTo(product(before, unmixed), 6);
  }

  const before = uneven(1);
  const spread = new Float64Array(POINTS);
  spreadRates(before, spread);
  const mixed = Float64Array.from(before);
  mixRates(mixed, 0.3, ANY);
  mixed.forEach((x, g) => {
    expect(x).toBeCloseTo(0.7 * before[g]! + 0.3 * spread[g]!, 6);
  });
});

test('what was found before a change tells less of the rate after it, the more unusual it is', () => {
  const found = (log: number) => {
    const values = FINE.logRates.map((theta) => Math.exp(-0.5 * ((theta - log) / 0.2) ** 2));
    mixRates(values, 1, USUAL);
    return Math.max(...values);
  };
  const [usual, unusual] = [found(Math.log(0.001)), found(Math.log(0.015))];
  expect(unusual / usual).toBeLessThan(0.3);
});
