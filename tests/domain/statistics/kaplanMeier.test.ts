import { describe, expect, test } from 'vitest';
import { kaplanMeier, medianDays, type Watched } from '../../../src/domain/statistics/kaplanMeier.js';

/**
 * Weeks in remission under 6-mercaptopurine; a plus left the watch still in remission.
 * Freireich et al. (1963), Blood 21(6), 699–716; as tabled in Cox & Oakes (1984), Analysis of Survival Data, 8.
 */
const SIX_MP = '6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+';

const watched = (text: string): Watched[] =>
  text.split(' ').map((each) => ({ days: Number.parseInt(each, 10), event: !each.endsWith('+') }));

describe('against the remissions of Freireich et al.', () => {
  const steps = kaplanMeier(watched(SIX_MP));

  test('share in remission, those at risk, and Greenwood’s standard error', () => {
    // 6: 18/21; 7: × 16/17; 10: × 14/15; 13: × 11/12; 16: × 10/11; 22: × 6/7; 23: × 5/6
    const expected: [weeks: number, atRisk: number, events: number, survival: number, error: number][] = [
      [6, 21, 3, 0.857, 0.0764],
      [7, 17, 1, 0.807, 0.0869],
      [10, 15, 1, 0.753, 0.0963],
      [13, 12, 1, 0.69, 0.1068],
      [16, 11, 1, 0.627, 0.1141],
      [22, 7, 1, 0.538, 0.1282],
      [23, 6, 1, 0.448, 0.1346],
    ];
    expect(steps).toHaveLength(expected.length);
    for (const [i, [weeks, atRisk, events, survival, error]] of expected.entries()) {
      expect(steps[i]).toMatchObject({ days: weeks, atRisk, events });
      expect(steps[i]?.survival).toBeCloseTo(survival, 3);
      expect(steps[i]?.standardError).toBeCloseTo(error, 4);
    }
  });

  test('its band, on the scale of log(−log)', () => {
    // Week 6: S = .857, √(3 / (21 · 18)) = .0891; .0891 / |ln .857| = .578; S^exp(±1.96 · .578) = .620 and .952
    expect(steps[0]?.low).toBeCloseTo(0.62, 3);
    expect(steps[0]?.high).toBeCloseTo(0.952, 3);
    expect(steps[6]?.low).toBeCloseTo(0.188, 3);
    expect(steps[6]?.high).toBeCloseTo(0.68, 3);
  });

  test('half were back by week 23', () => {
    expect(medianDays(steps)).toBe(23);
  });
});

test('the controls of the same trial, where nobody left the watch: plain shares', () => {
  const steps = kaplanMeier(watched('1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23'));
  // 19 of 21 beyond week 1; 8 of 21 beyond week 8.
  expect(steps[0]?.survival).toBeCloseTo(19 / 21, 12);
  expect(steps.find(({ days }) => days === 8)?.survival).toBeCloseTo(8 / 21, 12);
  expect(steps.at(-1)).toMatchObject({ survival: 0, standardError: 0, low: 0, high: 1 });
});

test('many alike count as many', () => {
  const one = kaplanMeier(watched('6 6 6 6+ 7'));
  const counted = kaplanMeier([
    { days: 6, event: true, count: 3 },
    { days: 6, event: false },
    { days: 7, event: true },
  ]);
  expect(counted).toEqual(one);
});

test('nothing watched, nothing said; a watch of no length is refused', () => {
  expect(kaplanMeier([])).toEqual([]);
  expect(medianDays([])).toBeNull();
  expect(() => kaplanMeier([{ days: 0, event: true }])).toThrow(RangeError);
});
