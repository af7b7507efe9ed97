import { describe, expect, test } from 'vitest';
import { allowedChance, riskDate, yearlyRiskDays } from '../../../src/domain/fouling/passage.js';
import { passageOf, weibull } from './knownLines.js';

describe('risk date', () => {
  // Weibull eta 300, beta 3: chance .10 at 300 (−ln .9)^(1/3) = 300 × .47233 = 141.7 days, so day 141.
  test('is the last whole day before the chance reaches the risk', () => {
    expect(riskDate('2026-01-01', weibull(300, 3), 0.1)).toBe('2026-05-22');
  });
  test('is today for a line that may be over already', () => {
    expect(
      riskDate(
        '2026-01-01',
        passageOf((t) => Math.min(1, 0.2 + t / 1000)),
        0.1,
      ),
    ).toBe('2026-01-01');
  });
  test('is null beyond the horizon', () => {
    expect(
      riskDate(
        '2026-01-01',
        passageOf((t) => t / 1e6, 1000),
        0.1,
      ),
    ).toBeNull();
  });
});

describe('yearly risk', () => {
  test('half a year may spend about half of it', () => {
    // 1 − .98^.5 = .010051
    expect(allowedChance(0.02, 365.25 / 2)).toBeCloseTo(0.0100505, 6);
    expect(allowedChance(0.02, 365.25)).toBeCloseTo(0.02, 12);
  });

  test('stops where the chance in the cycle passes its share of the year', () => {
    // F(t) = (t/1000)³ nearly; share .05 t/365.25: t² = 1e9 × .05/365.25 (to first order), t about 370 less the bends
    const days = yearlyRiskDays(weibull(1000, 3), 0.05, 0, 14) ?? 0;
    const chance = (t: number) => -Math.expm1(-((t / 1000) ** 3));
    expect(chance(days)).toBeLessThanOrEqual(allowedChance(0.05, days));
    expect(chance(days + 1)).toBeGreaterThan(allowedChance(0.05, days + 1));
    expect(days).toBeGreaterThan(350);
    expect(days).toBeLessThan(390);
  });

  test('stands still while nothing is found', () => {
    const life = weibull(500, 3);
    const fresh = yearlyRiskDays(life, 0.05, 0, 14) ?? 0;
    const later =
      yearlyRiskDays(
        passageOf((t) => life.chanceBy(50 + t)),
        0.05,
        50,
        14,
      ) ?? 0;
    expect(50 + later).toBe(fresh);
  });

  test('is spent now when the line may be plugged already', () => {
    expect(
      yearlyRiskDays(
        passageOf(() => 0.03),
        0.02,
        100,
        14,
      ),
    ).toBe(0);
  });

  test('is spent even where a longer cycle would allow it again', () => {
    // .0009 now; 16 days allow .02 × 16/365.25 = .00088, 17 days .00094
    expect(
      yearlyRiskDays(
        passageOf(() => 0.0009),
        0.02,
        16,
        14,
      ),
    ).toBe(0);
  });

  test('a line that may be one of a few fast ones is seen before they plug, however slow the others are', () => {
    // 8 % plug about day 60, the rest never: by year 5 the yearly 2 % would "allow" 9.6 % and never send anyone
    const few = passageOf((t) => 0.08 * -Math.expm1(-((t / 60) ** 4)));
    expect(yearlyRiskDays(few, 0.02, 0, 14)).toBeLessThan(45);
  });

  test('more risk is never earlier', () => {
    const life = passageOf((t) => 0.5 * -Math.expm1(-((t / 90) ** 3)) + 0.5 * -Math.expm1(-((t / 900) ** 3)));
    let before = 0;
    for (const risk of [0.001, 0.003, 0.01, 0.02, 0.05, 0.1, 0.3]) {
      const days = yearlyRiskDays(life, risk, 0, 14) ?? Infinity;
      expect(days).toBeGreaterThanOrEqual(before);
      before = days;
    }
  });
});
