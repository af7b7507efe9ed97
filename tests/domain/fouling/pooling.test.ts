import { expect, test } from 'vitest';
import { type PoolingLayout, type PoolingVariances, poolOnce } from '../../../src/domain/fouling/pooling.js';

/*
 * Sleep study of Belenky et al. (2003): reaction time of 18 subjects on 10 days, in milliseconds. Fits computed with
 * lme4 1.1.31 on R 4.2.2; they agree with Bates, Mächler, Bolker & Walker (2015), J. Stat. Softw. 67(1). Data: R
 * package lme4 (GPL). The design is balanced, so a mixed model sees it through its subject and day means alone: they
 * are given here, and the table is rebuilt from them. Subjects stand for sites, days for lines.
 */
const SUBJECT_MEANS = [
  342.13383, 215.23298, 231.00127, 303.22142, 309.43605, 307.30207, 316.15831, 295.30205, 250.07004,
  375.72101, 275.83447, 313.60268, 290.09775, 337.42154, 306.03464, 291.70177, 294.98404, 317.88613,
];
const DAY_MEANS = [
  256.6518056, 264.4957556, 265.3619, 282.9920111, 288.6494222, 308.5184556, 312.1782556, 318.7505833,
  336.6295056, 350.8512222,
];
const mean = (values: number[]): number => values.reduce((sum, x) => sum + x, 0) / values.length;

const subjects = SUBJECT_MEANS.length;
const days = DAY_MEANS.length;
const n = subjects * days;
const layout: PoolingLayout = {
  lines: n,
  sites: subjects,
  siteOf: Int32Array.from({ length: n }, (_, i) => Math.floor(i / days)),
  first: Int32Array.from({ length: n + 1 }, (_, i) => 2 * i),
  columns: Int32Array.from({ length: 2 * n }, (_, k) => k % 2),
  values: Float64Array.from({ length: 2 * n }, (_, k) => (k % 2 === 0 ? 1 : Math.floor(k / 2) % days)),
  priorVariance: [1e12, 1e12],
  priorMean: 0,
};
const looks = Float64Array.from(
  { length: n },
  (_, i) => (SUBJECT_MEANS[Math.floor(i / days)] ?? 0) + (DAY_MEANS[i % days] ?? 0) - mean(DAY_MEANS),
);

function fitted(siteSd: number, residualSd: number) {
  const precision = new Float64Array(n).fill(1 / residualSd ** 2);
  const scratch = { weight: new Float64Array(n), pull: new Float64Array(n) };
  const pooled = poolOnce(
    layout,
    looks,
    precision,
    { siteVariance: siteSd ** 2, lineVariance: 1e-9 },
    scratch,
  );
  const shrink = 1 / (1 / siteSd ** 2 + days / residualSd ** 2);
  return { pooled, shrink, effects: [...pooled.siteSum].map((sum) => shrink * sum) };
}

test('pooling reproduces the fixed effects of the sleep study: 251.4051 and 10.46729', () => {
  const { coefficients } = fitted(37.12382677, 30.9912339).pooled;
  expect(coefficients[0]).toBeCloseTo(251.4051048485, 4);
  expect(coefficients[1]).toBeCloseTo(10.4672859596, 5);
});

test('standard errors of the fixed effects: 9.74672 and .80422', () => {
  const { covariance } = fitted(37.12382677, 30.9912339).pooled;
  expect(Math.sqrt(covariance[0]!)).toBeCloseTo(9.746716269209, 4);
  expect(Math.sqrt(covariance[3]!)).toBeCloseTo(0.804221428945, 5);
});

test('subject effects drawn toward the mean: 40.7837, −77.8496, −63.1086, 4.4064; conditional variance 89.788', () => {
  const { effects, shrink } = fitted(37.12382677, 30.9912339);
  [40.78370984, -77.84955382, -63.10856741, 4.40644211].forEach((value, j) => {
    expect(effects[j]).toBeCloseTo(value, 3);
  });
  expect(shrink).toBeCloseTo(89.7882863041, 3);
});

/*
 * The days are the lines here, each read without error, so that the line variance is the residual's. Subject and day means
 * leave no spread of single readings: it is 161 × 30.9912339² (lme4's residual by REML, of 180 readings, 18 means, one slope)
 * less what days differ from a straight line, laid on in a pattern that neither means nor slope see. In units of half the
 * subjects' spread, as spreads of log rates are that size; lme4 by maximum likelihood: 36.01208² and 30.89543².
 */
const UNIT = 2 * 36.01208182;
const SITE_VARIANCE = 0.25;
const LINE_VARIANCE = (30.89543387 / UNIT) ** 2;
const offLine = DAY_MEANS.map((day, d) => day - (251.4051048485 + 10.4672859596 * d));
const single = Math.sqrt(
  (161 * 30.9912339 ** 2 - subjects * offLine.reduce((sum, off) => sum + off * off, 0)) / n,
);
const readings = looks.map((look, i) => look + single * (-1) ** (Math.floor(i / days) + (i % days)));

/** Goes from variances far off to those that the engine's own steps leave as they are. */
function fixedPoint(then: (next: PoolingVariances) => PoolingVariances): PoolingVariances {
  const scaled = readings.map((reading) => reading / UNIT);
  const precision = new Float64Array(n).fill(1e9);
  const scratch = { weight: new Float64Array(n), pull: new Float64Array(n) };
  let at: PoolingVariances = { siteVariance: 2, lineVariance: 0.02 };
  for (let round = 0; round < 200; round++) at = then(poolOnce(layout, scaled, precision, at, scratch));
  return at;
}

/**
 * The step as it is without the gamma prior v^½ exp(−v / 2m): the greatest of −n/2 log v − T/2v + ½ log v − v/2m is where
 * T = (n − 1) v + v²/m, and T / n is maximum likelihood's.
 */
const freed = (v: number, count: number, usual: number): number =>
  ((count - 1) * v + (v * v) / usual) / count;

test('the variances estimated from off values are those of lme4, 36.01208² and 30.89543², once their prior is taken out', () => {
  const { siteVariance, lineVariance } = fixedPoint((next) => ({
    siteVariance: freed(next.siteVariance, subjects, 0.25),
    lineVariance: freed(next.lineVariance, n, 0.4),
  }));
  expect(UNIT * Math.sqrt(siteVariance)).toBeCloseTo(36.01208182, 3);
  expect(UNIT * Math.sqrt(lineVariance)).toBeCloseTo(30.89543387, 3);
});

test('with their prior they lie where its pull says: the subjects on lme4, the residual .3 % above', () => {
  const { siteVariance, lineVariance } = fixedPoint((next) => next);
  // The prior's own greatest point is m: .25, where the subjects' variance lies in these units. The residual's .184 is drawn
  // toward .4 by (1 − v/m) / (n − sites) of itself: .54 / 162.
  expect(siteVariance / SITE_VARIANCE).toBeCloseTo(1, 2);
  const drawn = lineVariance / LINE_VARIANCE - 1;
  expect(drawn).toBeCloseTo((1 - LINE_VARIANCE / 0.4) / (n - subjects), 3);
  expect(drawn).toBeGreaterThan(0);
});

/*
 * NIST StRD, Norris.dat (linear regression, lower difficulty), certified values. Without sites and with equal errors
 * pooling is least squares. https://www.itl.nist.gov/div898/strd/lls/data/LINKS/DATA/Norris.dat
 */
const NORRIS_Y = [
  0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
  448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
  228.9, 668.4, 449.2, 0.2,
];
const NORRIS_X = [
  0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
  447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
  229.2, 669.1, 448.9, 0.5,
];

test('pooling without sites is least squares: Norris, −0.262323 and 1.00211681802 with their standard errors', () => {
  const count = NORRIS_X.length;
  const residualSd = 0.884796396144373;
  const pooled = poolOnce(
    {
      lines: count,
      sites: 1,
      siteOf: new Int32Array(count),
      first: Int32Array.from({ length: count + 1 }, (_, i) => 2 * i),
      columns: Int32Array.from({ length: 2 * count }, (_, k) => k % 2),
      values: Float64Array.from({ length: 2 * count }, (_, k) => (k % 2 === 0 ? 1 : (NORRIS_X[k >> 1] ?? 0))),
      priorVariance: [1e12, 1e12],
      priorMean: 0,
    },
    Float64Array.from(NORRIS_Y),
    new Float64Array(count).fill(1 / residualSd ** 2),
    { siteVariance: 1e-14, lineVariance: 0 },
    { weight: new Float64Array(count), pull: new Float64Array(count) },
  );
  expect(pooled.coefficients[0]).toBeCloseTo(-0.262323073774029, 8);
  expect(pooled.coefficients[1]).toBeCloseTo(1.00211681802045, 11);
  expect(Math.sqrt(pooled.covariance[0]!)).toBeCloseTo(0.232818234301152, 9);
  expect(Math.sqrt(pooled.covariance[3]!)).toBeCloseTo(0.000429796848199937, 12);
});
