import { describe, expect, test } from 'vitest';
import { normalCdf, normalDensity, tabledCdf, tabledDensity } from '../../../src/domain/fouling/normal.js';
import { betaI, fCdf, gammaP, inverseGaussianCdf } from './exactPassage.js';

// Values computed with scipy 1.10.1; normal .97725, gammaP(1, 1) = 1 − 1/e and IG(1, 1) at 1 = .66810 also stand in
// printed tables.
const close = (got: number, value: number, relative = 1e-9): void =>
  expect(Math.abs(got / value - 1)).toBeLessThan(relative);

describe('distributions against published values', () => {
  test.each([
    [-8, 6.22096057427174e-16],
    [-3, 0.0013498980316300933],
    [-1.2815515655446004, 0.1],
    [-0.1, 0.460172162722971],
    [0.5, 0.6914624612740131],
    [2, 0.9772498680518208],
    [6, 0.9999999990134123],
  ])('normal Φ(%d)', (z, value) => close(normalCdf(z), value, z < -7 ? 1e-6 : 1e-12));

  test.each([
    [0.05, 0.01, 0.8155598057412847],
    [0.5, 0.5, 0.6826894921370859],
    [1, 1, 1 - Math.exp(-1)],
    [3.7, 2.96, 0.406484809192653],
    [12.5, 10, 0.2531746939834633],
    [80, 64, 0.029622678732997072],
    [500, 400, 8.109381078799146e-7],
  ])('incomplete gamma P(%d, %d)', (a, x, value) => close(gammaP(a, x), value, 1e-8));

  test.each([
    [0.01, 0.5, 0.5, 0.06376856085851987],
    [0.3, 2, 3, 0.3483],
    [0.62, 20, 7.5, 0.10754120663196022],
    [0.62, 300, 200, 0.8190699881578128],
  ])('incomplete beta I_%d(%d, %d)', (x, a, b, value) => close(betaI(x, a, b), value, 1e-8));

  test.each([
    [0.7, 1, 1, 0.4435319521015363],
    [2.4, 2, 5, 0.8140655679181292],
    [1, 7.5, 3.2, 0.4485858671780362],
    [0.7, 40, 60, 0.11651028101155814],
    [2.4, 400, 12, 0.9569396740269356],
  ])('F at %d with %d and %d degrees of freedom', (x, m, n, value) => close(fCdf(x, m, n), value, 1e-7));

  test.each([
    [1, 1, 1, 0.6681020012231706],
    [0.2, 1, 1, 0.06375356751997621],
    [548, 548, 2000, 0.5983810975786924],
    [45, 90, 30, 0.5564502609033951],
    [20, 5, 0.5, 0.9444820138749882],
  ])('inverse Gaussian at %d, mean %d, shape %d', (x, mean, shape, value) =>
    close(inverseGaussianCdf(x, mean, shape), value, 1e-9),
  );
});

test('the tables of Φ and φ are off by less than 5e-7', () => {
  for (let z = -9; z < 9; z += 0.0137) {
    expect(Math.abs(tabledCdf(z) - normalCdf(z))).toBeLessThan(5e-7);
    expect(Math.abs(tabledDensity(z) - normalDensity(z))).toBeLessThan(8e-7);
  }
});
