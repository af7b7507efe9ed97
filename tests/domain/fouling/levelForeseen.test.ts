import { expect, test } from 'vitest';
import { type ForeseenLaw, levelForeseen } from '../../../src/domain/fouling/levelForeseen.js';

/** The angle of the year is 0 on day 0. */
const from = { asOfDay: 0, occlusion: 0.2, ratePerDay: 0.001, cleanDay: null };
const law = (more: Partial<ForeseenLaw['parameters']> = {}, k1 = 0, weight = 1): ForeseenLaw => ({
  k1,
  k2: 0,
  weight,
  parameters: { seasonCos: 0, seasonSin: 0, lagDays: 1, ...more },
});
const QUARTER = 365.25 / 4;

test('without laws it goes by the yearly pace, and never beyond full: .2 + .001 × 100', () => {
  expect(levelForeseen(from, null, 100)).toBeCloseTo(0.3, 4);
  expect(levelForeseen(from, [], 100)).toBeCloseTo(0.3, 4);
  expect(levelForeseen(from, [law()], 100)).toBeCloseTo(0.3, 4);
  expect(levelForeseen(from, null, 2000)).toBe(1);
});

test('a quarter of fast months counts for more days, one of slow months for fewer', () => {
  // Half as much again on day 0: 91.31 days and .5 × 365.25 / 2π × (sin 90° − sin 0°) = 29.07 more.
  expect(levelForeseen(from, [law({ seasonCos: 0.5 })], QUARTER)).toBeCloseTo(0.2 + 0.001 * 120.38, 4);
  expect(levelForeseen(from, [law({ seasonCos: -0.5 })], QUARTER)).toBeCloseTo(0.2 + 0.001 * 62.25, 4);
});

test('a lag after the clean costs days of growth, less of them the longer ago it was', () => {
  const cleaned = (ago: number) => levelForeseen({ ...from, cleanDay: -ago }, [law({ lagDays: 20 })], 200);
  // 20 × (1 − e^−10) = 20.00 days; 30 days later 20 × e^−1.5 = 4.46.
  expect(cleaned(0)).toBeCloseTo(0.2 + 0.001 * 180, 4);
  expect(cleaned(30)).toBeCloseTo(0.2 + 0.001 * 195.54, 4);
});

test('a growth law that speeds up is followed from where the line stands; laws share the belief', () => {
  // f = e^(2x), G(x) = ½ (1 − e^−2x) / (1 − e^−1): G(.1) = .14338, .002 × 100 more is .34338 = G(.28469).
  const fast = { ...from, occlusion: 0.1, ratePerDay: 0.002 };
  expect(levelForeseen(fast, [law({}, 2)], 100)).toBeCloseTo(0.28469, 3);
  // Straight it is .1 + .2: a quarter of that law and three of this.
  expect(levelForeseen(fast, [law({}, 2, 0.25), law({}, 0, 0.75)], 100)).toBeCloseTo(0.29617, 3);
});
