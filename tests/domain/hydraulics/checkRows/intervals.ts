import { costCycle, type LineCosts } from '../../../../src/domain/fouling/costCycle.js';
import { costLeastInterval } from '../../../../src/domain/fouling/costLeast.js';
import { growthShape, levelToY } from '../../../../src/domain/fouling/growthShape.js';
import { normalCdf } from '../../../../src/domain/fouling/normal.js';
import type { FirstPassage } from '../../../../src/domain/fouling/passage.js';
import { shrunkMean } from '../../../../src/domain/jetting/shrunkMean.js';
import { betaI, fCdf, gammaP, inverseGaussianCdf } from '../../fouling/exactPassage.js';
import { knownRate, passageOf, weibull } from '../../fouling/knownLines.js';
import type { CheckGroup } from './checkRow.js';

const costs = (visit: number, event: number): LineCosts => ({
  visit,
  event,
  pastDearLimit: 0,
  hardenedPerDay: 0,
  softDays: null,
});
const evenGrid = (last: number) => Float64Array.from({ length: 8001 }, (_, i) => (i * last) / 8000);

/** The service's own cost-least interval, for one life that is known. */
const best = (life: FirstPassage, visit: number, event: number, last: number) =>
  costLeastInterval(
    [knownRate(life)],
    { eventLimit: 0.9, dearLimit: 0.4 },
    costs(visit, event),
    evenGrid(last),
  );
const age = (life: FirstPassage, event: number, last = 30) => best(life, 1, event, last).days ?? Number.NaN;
const rate = (life: FirstPassage, event: number, last = 30) => best(life, 1, event, last).costPerDay;

function costAtFixed(life: FirstPassage, interval: number, event: number): number {
  const { cost, time } = costCycle(life, null, evenGrid(interval), 0, costs(1, event));
  return (cost.at(-1) ?? 0) / (time.at(-1) ?? 1);
}

/** Gamma process of shape 0.8 a month and rate 0.16 a per cent, limit 60 %. */
const gammaLife = passageOf((t) => gammaP2(0.8 * t, 0.16 * 60), 200);
function gammaP2(shape: number, x: number): number {
  return shape <= 0 ? 0 : 1 - gammaP(shape, x);
}

/** Wiener process of drift 5 % and spread 6 % a month, limit 60 %: an inverse Gaussian life. */
const wienerLife = passageOf((t) => (t <= 0 ? 0 : inverseGaussianCdf(t, 60 / 5, 60 ** 2 / 6 ** 2)), 400);

/** The gamma rate of lines: shape d, rate g in per cent; what one gain x in time t makes of it. */
interface GammaRate {
  d: number;
  g: number;
}
const LINES: GammaRate = { d: 4, g: 25 };
const A = 0.8;
const seen = ({ d, g }: GammaRate, x: number, t: number): GammaRate => ({ d: d + A * t, g: g + x });
const SEEN = seen(LINES, 30, 5);
const passed = ({ d, g }: GammaRate, need: number, t: number) => betaI(g / (g + need), d, A * t);
const speed = ({ d, g }: GammaRate) => (A * g) / (d - 1);

/** Drift of a line as normal, mean 5 and sd 1.5 a month. @see Whitmore (1986), Biometrics; closed form. */
function randomDrift(t: number, nu = 5, tau = 1.5, sigma = 6, limit = 60): number {
  const spread = Math.sqrt(sigma ** 2 * t + tau ** 2 * t ** 2);
  const exponent = (2 * nu * limit) / sigma ** 2 + (2 * tau ** 2 * limit ** 2) / sigma ** 4;
  const far = (2 * tau ** 2 * limit * t + sigma ** 2 * (nu * t + limit)) / (sigma ** 2 * spread);
  return normalCdf((nu * t - limit) / spread) + Math.exp(exponent) * normalCdf(-far);
}

/** ∫ t^k (1 − F) by Simpson's rule: moments of a life from its distribution. */
function lifeIntegral(life: FirstPassage, power: number, last: number): number {
  const panels = 20_000;
  let sum = 0;
  for (let i = 0; i <= panels; i++) {
    const t = (i * last) / panels;
    const weight = i === 0 || i === panels ? 1 : i % 2 === 1 ? 4 : 2;
    sum += weight * t ** power * (1 - life.chanceBy(t));
  }
  return (sum * last) / panels / 3;
}
const quantile = (life: FirstPassage, p: number) => life.quantile(p) ?? Number.NaN;
const SCIPY = 'computed with scipy 1.17.1';
const EXACT = 'closed form';
const LIBRARY = 'worked example in the documentation of an open-source Python reliability library';

/** When to come: lives, due dates at a chance, cost-least ages, and what one line's readings say of its rate. */
export const intervalRows: readonly CheckGroup[] = [
  {
    source: LIBRARY,
    rows: [
      ['AGE-01', 493.19, 'abs:0.2', () => age(weibull(1000, 2.5), 5, 1500)],
      ['AGE-03', 0.0035, 'abs:0.00005', () => rate(weibull(1000, 2.5), 5, 1500)],
    ],
  },
  {
    source: SCIPY,
    rows: [
      ['AGE-02', 493.0469557, 'rel:1e-5', () => age(weibull(1000, 2.5), 5, 1500)],
      ['AGE-04', 0.003462042739, 'rel:1e-5', () => rate(weibull(1000, 2.5), 5, 1500)],
      ['AGE-05', 4.590275742, 'rel:1e-4', () => age(weibull(12, 2), 8)],
      ['AGE-06', 0.4462768014, 'rel:1e-6', () => rate(weibull(12, 2), 8)],
      ['AGE-07', 4.993795638, 'rel:1e-4', () => age(weibull(12, 3), 8)],
      ['AGE-08', 0.3030659171, 'rel:1e-6', () => rate(weibull(12, 3), 8)],
      ['AGE-09', 8.854966184, 'rel:1e-4', () => age(weibull(12, 2), 3)],
      ['AGE-10', 0.2459712867, 'rel:1e-6', () => rate(weibull(12, 2), 3)],
      ['AGE-11', 2.679934275, 'rel:1e-4', () => age(weibull(9, 3), 20)],
      ['AGE-12', 0.5615592702, 'rel:1e-6', () => rate(weibull(9, 3), 20)],
      ['AGE-13', 0.484612427, 'rel:1e-6', () => costAtFixed(weibull(12, 2), 3, 8)],
      ['AGE-14', 0.460383599, 'rel:1e-6', () => costAtFixed(weibull(12, 2), 6, 8)],
      ['AGE-15', 0.6053236714, 'rel:1e-6', () => costAtFixed(weibull(12, 2), 12, 8)],
      ['GAM-01', 0.005093901465, 'abs:1e-6', () => gammaLife.chanceBy(4)],
      ['GAM-02', 0.03148364028, 'abs:1e-6', () => gammaLife.chanceBy(6)],
      ['GAM-03', 0.1098129286, 'abs:1e-6', () => gammaLife.chanceBy(8)],
      ['GAM-04', 0.258428372, 'abs:1e-6', () => gammaLife.chanceBy(10)],
      ['GAM-05', 0.4570616627, 'abs:1e-6', () => gammaLife.chanceBy(12)],
      ['GAM-06', 0.8123914308, 'abs:1e-6', () => gammaLife.chanceBy(16)],
      ['GAM-07', 6.656989836, 'abs:1e-4', () => quantile(gammaLife, 0.05)],
      ['GAM-08', 7.821404094, 'abs:1e-4', () => quantile(gammaLife, 0.1)],
      ['GAM-09', 12.41408838, 'abs:1e-4', () => quantile(gammaLife, 0.5)],
      ['GAM-10', 6.317010317, 'abs:1e-3', () => age(gammaLife, 8, 20)],
      ['GAM-11', 0.2036992591, 'rel:1e-5', () => rate(gammaLife, 8, 20)],
      ['GAM-12', 12.62499954, 'abs:1e-3', () => lifeIntegral(gammaLife, 0, 80)],
      ['GRE-01', 0.07526969578, 'abs:1e-6', () => passed(LINES, 60, 4)],
      ['GRE-02', 0.2878078904, 'abs:1e-6', () => passed(LINES, 60, 8)],
      ['GRE-03', 0.5329067506, 'abs:1e-6', () => passed(LINES, 60, 12)],
      ['GRE-04', 0.2878078904, 'abs:1e-6', () => 1 - fCdf((4 * 60) / (A * 8 * 25), 2 * A * 8, 2 * 4)],
      ['GRE-07', 0.07569270419, 'abs:1e-6', () => passed(SEEN, 30, 2)],
      ['GRE-08', 0.2867816784, 'abs:1e-6', () => passed(SEEN, 30, 4)],
      ['GRE-09', 0.5447890438, 'abs:1e-6', () => passed(SEEN, 30, 6)],
      [
        'GRE-10',
        2.3036024,
        'abs:1e-4',
        () =>
          quantile(
            passageOf((s) => (s <= 0 ? 0 : passed(SEEN, 30, s)), 60),
            0.1,
          ),
      ],
      ['WIG-01', 0.02852419574, 'abs:1e-7', () => wienerLife.chanceBy(6)],
      ['WIG-02', 0.1522042149, 'abs:1e-7', () => wienerLife.chanceBy(8)],
      ['WIG-03', 0.567189118, 'abs:1e-7', () => wienerLife.chanceBy(12)],
      ['WIG-04', 0.8446889603, 'abs:1e-7', () => wienerLife.chanceBy(16)],
      ['WIG-05', 6.523106145, 'abs:1e-4', () => quantile(wienerLife, 0.05)],
      ['WIG-06', 7.350331216, 'abs:1e-4', () => quantile(wienerLife, 0.1)],
      ['WIG-07', 11.32638325, 'abs:1e-4', () => quantile(wienerLife, 0.5)],
      ['WIG-10', 0.2000561481, 'abs:1e-6', () => randomDrift(8)],
      ['WIG-11', 0.5513808847, 'abs:1e-6', () => randomDrift(12)],
      ['WIG-14', 5.773097017, 'abs:1e-3', () => age(wienerLife, 8, 20)],
      ['WIG-15', 0.1997739739, 'rel:1e-5', () => rate(wienerLife, 8, 20)],
    ],
  },
  {
    source: EXACT,
    rows: [
      // nobody ever goes: 8 over a mean life of 12
      ['AGE-16', 0.6666666667, 'ge', () => rate(weibull(12, 1), 8, 600) + 1e-9],
      ['GRE-05', 8, 'abs:1e-9', () => SEEN.d],
      ['GRE-06', 55, 'abs:1e-9', () => SEEN.g],
      ['GRE-11', 6.666666667, 'rel:1e-9', () => speed(LINES)],
      ['GRE-12', 6.285714286, 'rel:1e-9', () => speed(SEEN)],
      ['WIG-08', 12, 'abs:1e-9', () => lifeIntegral(wienerLife, 0, 150)],
      [
        'WIG-09',
        17.28,
        'rel:1e-9',
        () => 2 * lifeIntegral(wienerLife, 1, 150) - lifeIntegral(wienerLife, 0, 150) ** 2,
      ],
      // a gain of 30 % in 5 months is 5 months of 6 % each
      ['WIG-12', 5.238095238, 'rel:1e-9', () => drift().mean],
      ['WIG-13', 1.309307341, 'rel:1e-9', () => drift().sd],
      ['EBS-01', 6.714285714, 'rel:1e-9', () => shrunkRate().mean],
      ['EBS-02', 0.5714285714, 'rel:1e-9', () => shrunkRate().weight],
      ['EBS-03', 12, 'abs:1e-9', () => monthsBetween(0.06, 0.6, 0.045)],
    ],
  },
];

const drift = () => shrunkMean({ count: 5, mean: 30 / 5, sd: 6 }, { mean: 5, sd: 1.5 });
const shrunkRate = () => shrunkMean({ count: 3, mean: 8, sd: 3 }, { mean: 5, sd: 2 });

/** Months from one level to another where growth is straight and without noise. */
function monthsBetween(from: number, to: number, perMonth: number): number {
  const straight = growthShape(0, 0);
  return (levelToY(straight, to) - levelToY(straight, from)) / perMonth;
}
