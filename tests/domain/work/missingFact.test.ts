import { expect, test } from 'vitest';
import { questionOf, type ThinLine, withinRisk } from '../../../src/domain/work/missingFact.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const known: ThinLine = {
  lineId: 'l1',
  name: 'Footing drain',
  assumed: [],
  staysWet: true,
  material: 'pvc',
  boreMm: 100,
  lengthM: 20,
  outlet: 'daylight',
  trend: {
    ahead: [0, 365],
    plugChances: [0, 0.0365],
    actionInDays: 400,
    dueInDays: 90,
    dueRule: 'hardening',
    rateQ10: 0.01,
    rateQ90: 0.01 * Math.exp(2 * 1.2816 * 1.1),
  },
};
const site = { siteId: 's', basement: 'basement', tap: 'yes' } as const;
const ask = (line: Partial<ThinLine>, more: object = {}) =>
  questionOf({ ...site, ...more }, [{ ...known, ...line }], DEFAULT_SETTINGS);

test('nothing missing, nothing asked', () => {
  expect(ask({})).toBeNull();
});

test('the days within a yearly risk: straight chances against 1 − (1 − r)^(d/365.25)', () => {
  // .0001 a day; r = .02 allows 1 − .98^(d/365.25) = 5.53e-5 d: passed on the first day. r = .10 allows 2.88e-4 d: never.
  const { trend } = known;
  if (!trend) throw new RangeError('no trend');
  expect(withinRisk(trend, 0.02)).toBe(0);
  expect(withinRisk(trend, 0.1)).toBe(365);
});

test('an unknown basement moves the date by the whole of that, and is asked first', () => {
  expect(ask({ material: 'unknown' }, { basement: 'unknown' })).toMatchObject({
    fact: 'basement',
    spreadDays: 365,
  });
});

test('whether it stays wet moves a hardening date by three months, and no other date', () => {
  // (6 − 3) × 365.25/12 = 91.3
  expect(ask({ staysWet: null })).toMatchObject({ fact: 'staysWet', spreadDays: 91, lineId: 'l1' });
  const { trend } = known;
  const byTerms = trend && { ...trend, dueRule: 'care_terms' };
  expect(ask({ staysWet: null, trend: byTerms })).toMatchObject({ spreadDays: 0 });
  // Not beyond the action limit: 400 is 20 days after 380.
  const late = trend && { ...trend, dueInDays: 380 };
  expect(ask({ staysWet: null, trend: late })).toMatchObject({ spreadDays: 20 });
});

test('material counts for more than bore, and for less the more was read', () => {
  // An unread line, g = .35: 400 (e^.35 − e^−.35) = 285.7
  const unread = ask({ material: 'unknown', boreMm: null });
  expect(unread).toMatchObject({ fact: 'material', spreadDays: 286 });
  const { trend } = known;
  // A band half as wide leaves a quarter of g: 400 (e^.0875 − e^−.0875) = 70.1
  const read = trend && { ...trend, rateQ90: trend.rateQ10 * Math.exp(1.2816 * 1.1) };
  expect(ask({ material: 'unknown', trend: read })).toMatchObject({ spreadDays: 70 });
});

test('an assumed fact is a missing one; what moves no date comes last', () => {
  expect(ask({ assumed: ['material', 'exists'] })).toMatchObject({ fact: 'material' });
  expect(ask({ lengthM: null, outlet: 'unknown' }, { tap: 'unknown' })).toMatchObject({
    fact: 'outlet',
    spreadDays: 0,
  });
  expect(ask({ lengthM: null }, { tap: 'unknown' })).toMatchObject({ fact: 'length' });
  expect(ask({}, { tap: 'unknown' })).toMatchObject({ fact: 'tap', lineId: null });
});
