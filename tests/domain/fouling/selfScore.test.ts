import { expect, test } from 'vitest';
import { normalCdf, normalDensity, normalQuantile } from '../../../src/domain/fouling/normal.js';
import {
  biasScore,
  calibrationReport,
  chanceBy,
  classScore,
  DUE_AT_ONCE,
  judge,
  passedGiven,
  STORED_AHEAD,
  type StoredForecast,
} from '../../../src/domain/fouling/selfScore.js';
import { Random } from '../../../src/domain/routing/random.js';
import { normal } from '../../bench/fouling/chance.js';

const forecast: StoredForecast = {
  asOfDay: 20_000,
  //               0     7     14    30    60    90   180   365
  actionChances: [0.01, 0.02, 0.03, 0.05, 0.1, 0.2, 0.5, 0.9],
  actionLimit: 0.5,
  occlusion: 0.2,
  ratePerMonth: 0.03,
  cleanDay: 19_990,
  laws: null,
  dueDay: 20_060,
};

test('the chance for a day in between runs straight, and stands still beyond the last', () => {
  expect(STORED_AHEAD).toHaveLength(8);
  // Half way from 60 to 90 days: (.10 + .20) / 2.
  expect(chanceBy(forecast.actionChances, 75)).toBeCloseTo(0.15, 12);
  expect(chanceBy(forecast.actionChances, 0)).toBe(0.01);
  expect(chanceBy(forecast.actionChances, 500)).toBe(0.9);
});

test('a reading near the limit leaves it open how it went', () => {
  // Forecast .2 with chance .1 beyond .5: spread .3 / 1.28155 = .23409. With a reading of .62 ± .08 the level is
  // normal about (.2/.23409² + .62/.08²) v = .57608 with v = 1 / (1/.23409² + 1/.08²) = .075701²: Φ(.07608/.075701) = .8425
  const near = { occlusion: 0.62, standardError: 0.08, bound: 'exact', slipShare: 0 } as const;
  expect(passedGiven(near, 0.5, 0.1, 0.2)).toBeCloseTo(0.8425, 3);
  expect(passedGiven({ ...near, occlusion: 0.1 }, 0.5, 0.1, 0.2)).toBeLessThan(1e-6);
  expect(passedGiven({ ...near, occlusion: 0.95 }, 0.5, 0.1, 0.2)).toBeGreaterThan(0.999);
});

test('much deposit seen at the outlet is evidence, little is hardly any', () => {
  const look = { standardError: 0.1, bound: 'at_least', slipShare: 0 } as const;
  expect(passedGiven({ ...look, occlusion: 0.7 }, 0.5, 0.1, 0.2)).toBeGreaterThan(0.8);
  // Nothing seen: a level past the limit is about as likely to show nothing as one under it.
  const nothing = passedGiven({ ...look, occlusion: 0 }, 0.5, 0.1, 0.2);
  expect(nothing).toBeGreaterThan(0.1);
  expect(nothing).toBeLessThan(0.14);
});

test('in the mean over readings it is the chance that was forecast, if that was right', () => {
  for (const [level, before] of [
    [0.2, 0.1],
    [0.4, 0.3],
    [0.6, 0.7],
  ] as const) {
    // Levels normal about the forecast, so wide that `before` of them lie past .5, read with an error of .1: the mean
    // of what is believed over all readings, summed over a fine grid of levels and errors.
    const spread = (0.5 - level) / -normalQuantile(before);
    let found = 0;
    for (let u = -5; u <= 5; u += 0.2) {
      for (let z = -5; z <= 5; z += 0.2) {
        const reading = {
          occlusion: level + spread * u + 0.1 * z,
          standardError: 0.1,
          bound: 'exact',
          slipShare: 0,
        } as const;
        found += 0.04 * normalDensity(u) * normalDensity(z) * passedGiven(reading, 0.5, before, level);
      }
    }
    expect(found).toBeCloseTo(before, 3);
  }
}, 60_000);

const lawOfSlips = (grossShare: number) => [
  { k1: 0, k2: 0, weight: 1, parameters: { seasonCos: 0, seasonSin: 0, lagDays: 0, grossShare } },
];

/**
 * Right forecasts, their readings with an error of .08 and in whole percents, a share of them slips: anything, the free bore,
 * or divided by a hundred twice. By how much the share that passed lies over the chances, in standard errors.
 */
function slipBias(slips: number, known: number, spread: number): number {
  const random = new Random(41);
  let sum = 0;
  let squares = 0;
  const visits = 12_000;
  for (let i = 0; i < visits; i++) {
    const middle = 0.05 + 0.3 * random.unit();
    const level = middle + spread * normal(random);
    const chance = normalCdf((middle - 0.45) / spread);
    const right = Math.min(1, Math.max(0, level + 0.08 * normal(random)));
    const kind = Math.floor((3 * random.unit()) / slips);
    const read = kind === 0 ? random.unit() : kind === 1 ? 1 - right : kind === 2 ? right / 100 : right;
    const judged = judge(
      {
        ...forecast,
        actionChances: STORED_AHEAD.map(() => chance),
        actionLimit: 0.45,
        occlusion: middle,
        ratePerMonth: 0,
        laws: lawOfSlips(known),
      },
      {
        day: forecast.asOfDay + 60,
        plugged: false,
        occlusion: Math.round(read * 100) / 100,
        standardError: 0.08,
        bound: 'exact',
        confirmed: false,
      },
    );
    const off = (judged?.passed ?? 0) - (judged?.expected ?? 0);
    sum += off;
    squares += off * off;
  }
  return sum / Math.sqrt(squares);
}

test.each([0.06, 0.1])(
  'slips among the readings of right forecasts, spread %d, make none look late',
  (spread) => {
    expect(Math.abs(slipBias(0.03, 0.03, spread))).toBeLessThan(2);
    expect(Math.abs(slipBias(1e-9, 0, spread))).toBeLessThan(2);
    // Taken for full truth, they would.
    expect(slipBias(0.03, 0, spread)).toBeGreaterThan(4);
  },
  60_000,
);

test('a reading that a person stands by is no slip; where the fit was not kept none is', () => {
  const found = { day: 20_007, plugged: false, occlusion: 0.7, standardError: 0.08, bound: 'exact' } as const;
  const slips = { ...forecast, actionChances: [0.0001, 0.00013, 0.0002, 0.01, 0.1, 0.2, 0.5, 0.9] };
  const passed = (laws: StoredForecast['laws'], confirmed: boolean) =>
    judge({ ...slips, laws }, { ...found, confirmed })?.passed ?? 0;
  expect(passed(lawOfSlips(0.03), false)).toBeLessThan(0.05);
  expect(passed(lawOfSlips(0.03), true)).toBe(passed(lawOfSlips(0), false));
  expect(passed(null, false)).toBeCloseTo(passed(lawOfSlips(0), false), 6);
});

test('a visit is held against the chance for its own day, never against the date of the limit', () => {
  const seen = judge(forecast, {
    day: 20_060,
    plugged: false,
    occlusion: 0.3,
    standardError: 0.05,
    bound: 'exact',
    confirmed: false,
  });
  expect(seen?.expected).toBe(0.1);
  expect(seen?.passed).toBeLessThan(1e-3);
  // .2 + .03 a month over 60 days = .2 + .0591; found .3: .0409 above.
  expect(seen?.residual).toBeCloseTo(0.3 - 0.2 - (0.03 * 60) / (365.25 / 12), 12);
});

test('a plug that called before the day the line was due is judged on that day', () => {
  const plugged = {
    plugged: true,
    occlusion: null,
    standardError: null,
    bound: 'exact',
    confirmed: false,
  } as const;
  // Called after 14 days, due after 60: the schedule would have found it past the limit then, and .1 was forecast.
  expect(judge(forecast, { ...plugged, day: 20_014 })).toEqual({
    expected: 0.1,
    passed: 1,
    residual: null,
    dueAtOnce: false,
  });
  expect(judge(forecast, { ...plugged, day: 20_090 })?.expected).toBe(0.2);
});

test('a line whose limit is likely enough passed by tomorrow is due at once, for a visit that comes soon', () => {
  const seen = {
    plugged: false,
    occlusion: 0.4,
    standardError: 0.05,
    bound: 'exact',
    confirmed: false,
  } as const;
  // By tomorrow a seventh of the way from the first chance to that of a week: .09 + (.17 − .09) / 7 = .1014.
  const chances = [0.09, 0.17, 0.25, 0.4, 0.6, 0.8, 0.9, 0.99];
  const over = { ...forecast, occlusion: 0.4, actionChances: chances };
  expect(judge(over, { ...seen, day: 20_010 })?.dueAtOnce).toBe(true);
  expect(judge(over, { ...seen, day: 20_030 })?.dueAtOnce).toBe(true);
  expect(judge(over, { ...seen, day: 20_031 })?.dueAtOnce).toBe(false);
  expect(judge(over, { ...seen, plugged: true, occlusion: null, day: 20_010 })?.dueAtOnce).toBe(true);
  // .085 + (.17 − .085) / 7 = .0971.
  const under = { ...over, actionChances: [0.085, ...chances.slice(1)] };
  expect(judge(under, { ...seen, day: 20_010 })?.dueAtOnce).toBe(false);
});

test('what says nothing of the limit is not judged', () => {
  const blank = {
    plugged: false,
    occlusion: null,
    standardError: null,
    bound: 'exact',
    confirmed: false,
  } as const;
  expect(judge(forecast, { ...blank, day: 20_030 })).toBeNull();
  // Past the limit after two years: on which side of the last stored day, nobody knows. Under it: not by then either.
  const late = { ...blank, day: 20_700, standardError: 0.05 };
  expect(judge(forecast, { ...late, occlusion: 0.8 })).toBeNull();
  expect(judge(forecast, { ...late, occlusion: 0.1 })?.expected).toBe(0.9);
});

test('a class is off by more than .02, two standard errors of its own chances and half a visit, or it is within', () => {
  // 100 forecasts of .1: standard error √(100 × .09) / 100 = .03; .1 ± (.06 + .005).
  const off = classScore({ name: 'no reading', count: 100, expected: 10, passed: 20, variance: 9 });
  expect(off).toMatchObject({ expected: 0.1, observed: 0.2, verdict: 'more' });
  expect(off.standardError).toBeCloseTo(0.03, 12);
  expect(off.low).toBeCloseTo(0.035, 12);
  expect(off.high).toBeCloseTo(0.165, 12);
  const equal = (count: number, expected: number, passed: number) =>
    classScore({ name: '', count, expected, passed, variance: expected * (1 - expected / count) }).verdict;
  expect(equal(100, 10, 16)).toBe('within');
  expect(equal(100, 10, 3)).toBe('fewer');
  expect(equal(10, 1, 9)).toBe('too_few');
  // Rare: 3.4 expected of 166, P(8 or more) is .022. Of 20 one that nobody expected (.1) is none: P(1 or more) .095.
  expect(equal(166, 3.4, 7)).toBe('within');
  expect(equal(166, 3.4, 8)).toBe('more');
  expect(equal(20, 0.1, 1)).toBe('within');
  // Of very many .015 away is no news.
  expect(equal(10_000, 1_000, 1_150)).toBe('within');
  expect(equal(10_000, 1_000, 1_250)).toBe('more');
});

test('unlike chances vary less than equal ones of the same mean: their own variance judges', () => {
  // 166 visits with Σ p = 3.47 and Σ p (1 − p) = 1.81 (SE .0081): .0411 came true, .0202 and 2.5 SE above .0209.
  const rare = { name: '', count: 166, expected: 3.47, variance: 1.81 };
  expect(classScore({ ...rare, passed: 6.83 }).verdict).toBe('more');
  expect(classScore({ ...rare, passed: 6.6 }).verdict).toBe('within');
  // 200 sure not to pass and 50 at .95: expected .19, own SE √(50 × .0475) / 250 = .0062; .145 is seven of them below.
  const sure = { name: '', count: 250, expected: 47.5, variance: 50 * 0.95 * 0.05 };
  expect(classScore({ ...sure, passed: 36.25 }).verdict).toBe('fewer');
  expect(classScore({ ...sure, passed: 43 }).verdict).toBe('within');
});

test('the report names what is off, by how much, and what follows', () => {
  const report = calibrationReport({
    classes: [
      { name: 'no reading', count: 100, expected: 10, passed: 20, variance: 9 },
      { name: '1 or 2 readings', count: 0, expected: 0, passed: 0, variance: 0 },
    ],
    methods: [{ name: 'outlet_look', count: 100, mean: -0.08, sd: 0.1 }],
    crews: [{ name: 'Heron', count: 25, mean: 0.01, sd: 0.2 }],
  });
  expect(report).toMatchObject({ count: 100, off: true });
  expect(report.classes).toHaveLength(1);
  expect(report.findings.map(({ code }) => code)).toEqual(['class_more', 'method_lower']);
  expect(report.findings[0]?.text).toContain('20.0 % were past their action limit');
  expect(report.findings[0]?.text).toContain('dates come out late');
  // .01 with a standard error of .2 / √25 = .04.
  expect(biasScore({ name: 'Heron', count: 25, mean: 0.01, sd: 0.2 })).toMatchObject({
    standardError: 0.04,
    verdict: 'within',
  });
});

test('lines due at once are told of as a class of their own', () => {
  // 100 chances of .5: standard error √(100 × .25) / 100 = .05; 30 passed: .5 − .3 > .1.
  const { findings, classes } = calibrationReport({
    classes: [{ name: DUE_AT_ONCE, count: 100, expected: 50, passed: 30, variance: 25 }],
    methods: [],
    crews: [],
  });
  expect(classes).toMatchObject([{ name: 'due at once', expected: 0.5, observed: 0.3, verdict: 'fewer' }]);
  expect(findings[0]?.text).toMatch(
    /^Lines due at once: 30\.0 % were past their action limit .* where 50\.0 % was forecast/,
  );
});

test('a figure on the action limit advises no higher risk of floods, one on a crew no second trip to a house', () => {
  const { findings } = calibrationReport({
    classes: [{ name: DUE_AT_ONCE, count: 100, expected: 50, passed: 30, variance: 25 }],
    methods: [],
    crews: [{ name: 'Heron', count: 100, mean: 0.08, sd: 0.1 }],
  });
  const [fewer, crew] = findings.map(({ text }) => text);
  expect(findings.map(({ code }) => code)).toEqual(['class_fewer', 'crew_higher']);
  expect(fewer).toContain('setting intervals.overLimitChance; GET /v1/reports/cost-against-risk');
  expect(fewer).toContain('no ground to accept a higher yearly risk');
  expect(fewer).not.toMatch(/yearlyPlugRisk|No line is in danger/);
  expect(crew).toContain('In one visit let two people, or two tools, read the same lines before the clean');
  expect(crew).not.toContain('within a week');
});
