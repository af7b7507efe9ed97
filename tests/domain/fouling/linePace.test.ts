import { expect, test } from 'vitest';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import { linePace } from '../../../src/domain/fouling/linePace.js';
import { paceText } from '../../../src/papers/paceWords.js';

/** Read .1 on 1 October 2026 and .22 a quarter later; .05 a month in the mean of a year. */
const line = {
  asOfDay: dayNumber('2026-10-01'),
  ratePerDay: { median: 0.05 / (365.25 / 12), q10: 0.001, q90: 0.003 },
  curve: (days: number) => ({ q10: 0, q50: 0.1 + (0.12 * days) / 91, q90: 1 }),
};
const law = (weight: number, seasonCos: number, seasonSin: number) => ({
  weight,
  parameters: { seasonCos, seasonSin },
});

test('the pace of the coming quarter stands beside the mean of a year, with the season that parts them', () => {
  // Laws of .5 and .1 in equal parts: .3, fastest as the year begins. From 92 days before that to one day before it
  // the season gives 1 + .3 (sin(−.0172) − sin(−1.583)) / 1.565 = 1.188.
  const pace = linePace(line, { shapes: [law(0.5, 0.5, 0), law(0.5, 0.1, 0)] });
  expect(pace).toMatchObject({ from: '2026-10-01', to: '2026-12-31', occlusionFrom: 0.1 });
  expect(pace.occlusionTo).toBeCloseTo(0.22, 9);
  expect(pace.perMonth).toBeCloseTo(0.12 / (91 / 30.4375), 6);
  expect(pace.yearlyMean).toBeCloseTo(0.05, 9);
  expect(pace.season?.ofYear).toBeCloseTo(1.188, 2);
  expect(pace.season?.fastestOn).toBe('2027-01-01');
  expect(pace.season?.fastest).toBeCloseTo(1.3, 9);
});

test('half a year later the season is fastest on the other side of zero', () => {
  const { season } = linePace(line, { shapes: [law(1, 0, -0.4)] });
  // −sin is greatest three quarters of a year on from its beginning.
  expect(season?.fastestOn).toBe('2026-10-02');
  expect(linePace(line, { shapes: [law(1, 0.03, 0.03)] }).season).toBeNull();
});

test('in words, by the units asked for: a tenth of a 4 in bore is a flat bed .63 in deep, .22 one of 1.09 in', () => {
  const pace = linePace(line, { shapes: [law(1, 0.3, 0)] });
  const words = (boreMm: number | null, units: 'metric' | 'us') =>
    paceText(pace, boreMm, units).replaceAll('\u00A0', ' ');
  expect(words(101.6, 'us')).toBe(
    'If nobody cleans, from 10 % (lying flat 0.63 in deep) blocked on 1 Oct 2026 to 22 % (lying flat 1.09 in deep) on 31 Dec 2026: ' +
      '4 % of the bore a month in these months. In the mean of a year, from empty to half full, it is 5 % a month: ' +
      "no date is reckoned by that alone, the base's season (1.2 times the mean in these months, 1.3 times it about 1 Jan 2027) " +
      'and growth that changes with the level are in the dates.',
  );
  expect(words(101.6, 'metric')).toContain('15.9 mm deep');
  const even = { ...pace, season: { ofYear: 1.01, fastestOn: '2027-04-10', fastest: 1.4 } };
  expect(paceText(even, null, 'us')).toContain('season (the mean in these months, 1.4 times it about');
  expect(words(null, 'us')).toContain('from 10 % blocked on');
  const plain = paceText({ ...pace, season: null }, null, 'us').replaceAll('\u00A0', ' ');
  expect(
    plain.endsWith('no date is reckoned by that alone, growth that changes with the level is in the dates.'),
  ).toBe(true);
});
