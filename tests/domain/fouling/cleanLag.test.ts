import { describe, expect, test } from 'vitest';
import { daysLost, lostVariance } from '../../../src/domain/fouling/cleanLag.js';
import { RATES } from '../../../src/domain/fouling/grid.js';
import { growthShape } from '../../../src/domain/fouling/growthShape.js';
import { filterLine, filterState } from '../../../src/domain/fouling/lineFilter.js';
import { lineSteps, MARK } from '../../../src/domain/fouling/lineSteps.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import { Random } from '../../../src/domain/routing/random.js';
import { newPipe } from './newPipe.js';

describe('days lost after a clean, of a lag of 40 days in the mean', () => {
  const L = 40;
  test('by then as the lesser of lag and days: 40 (1 − e^(−days/40)), and its variance', () => {
    expect(daysLost(L, 0, 40)).toBeCloseTo(40 * (1 - Math.exp(-1)), 9);
    const random = new Random(2);
    for (const days of [10, 40, 120]) {
      const lost = Array.from({ length: 40_000 }, () => Math.min(days, -L * Math.log(1 - random.unit())));
      const mean = lost.reduce((sum, x) => sum + x, 0) / lost.length;
      const variance = lost.reduce((sum, x) => sum + (x - mean) ** 2, 0) / lost.length;
      // 40,000 draws: three standard errors are .6 days at the most, and 3 % of a variance
      expect(Math.abs(daysLost(L, 0, days) - mean)).toBeLessThan(0.6);
      expect(lostVariance(L, 0, days) / variance).toBeGreaterThan(0.95);
      expect(lostVariance(L, 0, days) / variance).toBeLessThan(1.05);
    }
  });

  test('stretches of days add up', () => {
    expect(daysLost(L, 0, 30) + daysLost(L, 30, 50)).toBeCloseTo(daysLost(L, 0, 80), 9);
  });

  test('what is left after 60 days: lasting with chance q = e^(−1.5), then 40 days more: mean 40 q, variance 40² q (2 − q)', () => {
    const q = Math.exp(-1.5);
    expect(daysLost(L, 60, Infinity)).toBeCloseTo(40 * q, 9);
    expect(lostVariance(L, 60, Infinity)).toBeCloseTo(1600 * q * (2 - q), 9);
  });

  test('nothing of a line never cleaned', () => {
    expect(daysLost(L, Infinity, 100)).toBe(0);
    expect(lostVariance(L, Infinity, 100)).toBe(0);
  });
});

test('a line cleaned 100 days ago holds what 100 days less those lost have grown; a new pipe loses none', () => {
  const parameters = {
    ...START_PARAMETERS,
    growthNoise: 0,
    timeNoise: 0,
    changesPerYear: 0,
    residualMean: 0.04,
    residualSd: 0.001,
    lagDays: 40,
  };
  const g = 40;
  const heldAfter = (days: number, cleaned: boolean): number => {
    const events = [
      ...(cleaned ? [{ kind: 'clean' as const, day: 200 }] : []),
      { kind: 'regime' as const, day: 200 + days },
    ];
    const line = newPipe(events, cleaned ? 0 : 200);
    const state = filterState();
    // As a mere mark: a change of regime would spread the rates.
    const steps = lineSteps([line], 10_000);
    steps.action[steps.first[1]! - 1] = MARK;
    filterLine(steps, 0, growthShape(0, 0), parameters, state);
    return state.mean[g]!;
  };
  const lost = 40 * (1 - Math.exp(-2.5));
  expect(heldAfter(100, true)).toBeCloseTo(0.04 + RATES[g]! * (100 - lost), 4);
  expect(heldAfter(100, false)).toBeCloseTo(0.01 + RATES[g]! * 100, 4);
});
