import { describe, expect, test } from 'vitest';
import { growthShape, levelToY, slopeAt, yToLevel } from '../../../src/domain/fouling/growthShape.js';
import { seasonDays } from '../../../src/domain/fouling/shapeParameters.js';

describe('growth laws', () => {
  test.each([-2, -0.8, 0.8, 2.4])(
    'k1 %d alone has the closed form (1 − e^(−k x)) / k, scaled to ½ at ½',
    (k) => {
      const shape = growthShape(k, 0);
      const whole = (x: number): number => -Math.expm1(-k * x) / k;
      for (const x of [0, 0.1, 0.25, 0.5, 0.7, 0.96]) {
        expect(levelToY(shape, x)).toBeCloseTo((0.5 * whole(x)) / whole(0.5), 4);
      }
    },
  );

  test('straight growth takes a level to itself', () => {
    for (const x of [0, 0.3, 0.9]) expect(levelToY(growthShape(0, 0), x)).toBeCloseTo(x, 9);
  });

  test.each([
    [0, 0],
    [1.6, -4.5],
    [-1.6, 0],
    [2.8, -2],
  ])('the way back leads to the same level, and the slope is its derivative (k1 %d, k2 %d)', (k1, k2) => {
    const shape = growthShape(k1, k2);
    for (const x of [0.02, 0.2, 0.45, 0.8]) {
      const y = levelToY(shape, x);
      expect(yToLevel(shape, y)).toBeCloseTo(x, 3);
      const h = 0.01;
      expect(slopeAt(shape, x)).toBeCloseTo((2 * h) / (levelToY(shape, x + h) - levelToY(shape, x - h)), 1);
    }
  });

  test('k2 below 0 starts and ends slowly', () => {
    const shape = growthShape(1.6, -4.5);
    expect(slopeAt(shape, 0)).toBeLessThan(0.6 * slopeAt(shape, 0.45));
    expect(slopeAt(shape, 1)).toBeLessThan(0.8 * slopeAt(shape, 0.45));
  });
});

test('season-weighted days are the sum of the season over the days, and a year weighs a year', () => {
  const season = { seasonCos: 0.4, seasonSin: -0.3 };
  const w = (2 * Math.PI) / 365.25;
  let sum = 0;
  for (let d = 0; d < 100; d += 0.01) {
    const t = 20_100 + d + 0.005;
    sum += 0.01 * (1 + 0.4 * Math.cos(w * t) - 0.3 * Math.sin(w * t));
  }
  expect(seasonDays(season, 20_100, 20_200)).toBeCloseTo(sum, 3);
  expect(seasonDays(season, 20_000, 20_000 + 365.25)).toBeCloseTo(365.25, 8);
});
