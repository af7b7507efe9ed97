import { describe, expect, test } from 'vitest';
import { costGrid, type LineCosts } from '../../../src/domain/fouling/costCycle.js';
import { costLeastDays, costLeastInterval } from '../../../src/domain/fouling/costLeast.js';
import { normalCdf } from '../../../src/domain/fouling/normal.js';
import type { RateComponent } from '../../../src/domain/fouling/passage.js';
import { knownRate, lineOf, passageOf, weibull } from './knownLines.js';

const limits = { eventLimit: 0.9, dearLimit: 0.4 };
const plain = (visit: number, event: number): LineCosts => ({
  visit,
  event,
  pastDearLimit: 0,
  hardenedPerDay: 0,
  softDays: null,
});

describe('age replacement, one known rate', () => {
  // cp, cf, eta, beta -> best age, cost per unit of time. First row: the worked example of an open-source Python
  // reliability library ("Optimal replacement time": 493.19 and 0.0035; exact 493.0470, 0.003462042739); the rest
  // computed with scipy 1.17.1 from h(T) ∫R − F = cp/(cf − cp), Barlow & Proschan (1965).
  const published = [
    [1, 5, 1000, 2.5, 493.0469557, 0.003462042739],
    [1, 8, 12, 2, 4.590275742, 0.4462768014],
    [1, 8, 12, 3, 4.993795638, 0.3030659171],
    [1, 3, 12, 2, 8.854966184, 0.2459712867],
    [1, 20, 9, 3, 2.679934275, 0.5615592702],
  ] as const;
  test.each(published)('cp %d, cf %d, eta %d, beta %d', (cp, cf, eta, beta, age, rate) => {
    const line = knownRate(weibull(eta, beta));
    const grid = Float64Array.from({ length: 4001 }, (_, i) => (i * 1.5 * eta) / 4000);
    const best = costLeastInterval([line], limits, plain(cp, cf), grid);
    expect(best.days).not.toBeNull();
    expect(Math.abs((best.days ?? 0) / age - 1)).toBeLessThan(1e-4);
    expect(Math.abs(best.costPerDay / rate - 1)).toBeLessThan(1e-6);
  });

  test.each(published)(
    'on the grid of the night: cp %d, cf %d, eta %d, beta %d',
    (cp, cf, eta, beta, age, rate) => {
      // taken as days where the life is long, else as months of 30.4375 days
      const scale = eta > 100 ? 1 : 30.4375;
      const life = weibull(eta * scale, beta);
      const best = costLeastInterval([knownRate(life)], limits, plain(cp, cf), costGrid(730));
      expect(Math.abs((best.days ?? 0) / (age * scale) - 1)).toBeLessThan(0.03);
      expect((costAt(life.chanceBy, best.days ?? 0, cp, cf) * scale) / rate - 1).toBeLessThan(0.003);
    },
  );

  // A plug is so dear beyond the corner that a parabola through the grid's days would lie below nothing. Best by every day of two years.
  test.each([
    [60, 1],
    [60, 6],
    [100, 1],
    [100, 5],
    [200, 10],
    [365, 20],
  ])('a rate known for sure, life %d ± %d days: on the grid of the night as by every day', (mean, sd) => {
    const life = passageOf((days) => normalCdf((days - mean) / sd));
    const best = costLeastInterval([knownRate(life)], limits, plain(1, 25), costGrid(730));
    const costs = Array.from({ length: 730 }, (_, i) => costAt(life.chanceBy, i + 1, 1, 25));
    const least = Math.min(...costs);
    expect(costAt(life.chanceBy, best.days ?? 0, 1, 25) / least).toBeLessThan(1.02);
    expect(Math.abs(best.costPerDay / least - 1)).toBeLessThan(0.02);
  });

  // T = 3, 6, 12 at cp 1, cf 8, eta 12, beta 2, same source.
  test.each([
    [3, 0.484612427],
    [6, 0.460383599],
    [12, 0.6053236714],
  ])('a fixed interval of %d costs %d', (interval, rate) => {
    const grid = Float64Array.from({ length: 4001 }, (_, i) => (i * interval) / 4000);
    const perDay = costLeastInterval(
      [knownRate(weibull(12, 2))],
      limits,
      plain(1, 8),
      grid.slice(0),
    ).costPerDay;
    const atEnd = costAt(weibull(12, 2).chanceBy, interval, 1, 8);
    expect(Math.abs(atEnd / rate - 1)).toBeLessThan(1e-6);
    expect(perDay).toBeLessThanOrEqual(atEnd * (1 + 1e-9));
  });

  test('a memoryless line is never visited: no interval costs less than cf/eta = 8/12', () => {
    const best = costLeastInterval([knownRate(weibull(12, 1))], limits, plain(1, 8), costGrid(600));
    expect(best.days).toBeNull();
    expect(best.costPerDay).toBeCloseTo(8 / 12, 9);
  });

  test('where a plug costs no more than a visit, nobody goes before it', () => {
    expect(
      costLeastInterval([knownRate(weibull(120, 3))], limits, plain(1, 1), costGrid(600)).days,
    ).toBeNull();
  });

  test('whole days on the grid of the night lie within 3 % of the exact age and cost within 0.2 % of it', () => {
    // 4.590275742 months of 30.4375 days = 139.7 days
    const month = 30.4375;
    const best = costLeastInterval([knownRate(weibull(12 * month, 2))], limits, plain(1, 8), costGrid(730));
    expect(Math.abs((best.days ?? 0) / (4.590275742 * month) - 1)).toBeLessThan(0.03);
    const cost = costAt(weibull(12 * month, 2).chanceBy, best.days ?? 0, 1, 8) * month;
    expect(cost / 0.4462768014 - 1).toBeLessThan(0.002);
  });
});

describe('a rate not known for sure', () => {
  /** Two lives: half the belief plugs about day 100, half about day 1000. */
  const doubtful: RateComponent[] = [
    { ...knownRate(weibull(100, 6)), weight: 0.5 },
    { ...knownRate(weibull(1000, 6)), weight: 0.5 },
  ];

  test('the mixed distribution would say "never", the mean over rates says "before the fast one plugs"', () => {
    const grid = costGrid(4000, 1.02);
    const mixed = knownRate(
      passageOf((t) => doubtful.reduce((sum, c) => sum + c.weight * c.passage(1).chanceBy(t), 0), 9000),
    );
    // per day, go at 60: 1/60 = .017 whatever the rate; at 740: mean of 8/93 and 1/740 = .044, but mixed (½·8 + ½·1)/(½·93 + ½·740) = .011
    const cheap = plain(1, 8);
    expect(costLeastInterval([mixed], limits, cheap, grid).days).toBeGreaterThan(300);
    expect(costLeastInterval(doubtful, limits, cheap, grid).days).toBeLessThan(100);
  });

  test('a line never measured gets a finite, sensible date', () => {
    const cold = lineOf(0.03, 0.0012, 1.2);
    const days = costLeastInterval(cold.components, limits, plain(1, 25), costGrid(730)).days ?? Number.NaN;
    expect(days).toBeGreaterThan(45);
    expect(days).toBeLessThan(365);
  });

  test('right after a clean the running cycle has the length of every cycle', () => {
    const grid = costGrid(730, 1.03);
    const best = costLeastInterval(doubtful, limits, plain(1, 8), grid);
    const days = costLeastDays(doubtful, best, limits, plain(1, 8), 0, grid);
    expect(Math.abs((days ?? 0) - (best.days ?? 0))).toBeLessThan(0.5);
  });

  test('and so it has where one of the rates will plug before the visit', () => {
    // a plug at three visits is not worth saving for the fast tenth: the interval suits the others
    const tenth: RateComponent[] = [
      { ...knownRate(weibull(60, 4)), weight: 0.1 },
      { ...knownRate(weibull(400, 3)), weight: 0.45 },
      { ...knownRate(weibull(700, 3)), weight: 0.45 },
    ];
    const grid = costGrid(1500, 1.02);
    const best = costLeastInterval(tenth, limits, plain(1, 3), grid);
    expect(best.days).toBeGreaterThan(150);
    const days = costLeastDays(tenth, best, limits, plain(1, 3), 0, grid);
    expect(Math.abs((days ?? 0) - (best.days ?? 0))).toBeLessThan(1);
  });

  test('there is a day to go right after a clean where there is an interval, and only there', () => {
    // doubtful lines of many kinds: median life 30 to 1,600 days, sd of its logarithm .3 to 1.8
    const grid = costGrid(730);
    for (let k = 0; k < 400; k++) {
      const median = 30 * Math.exp((k % 20) / 5);
      const sd = 0.3 + (1.5 * (k % 23)) / 22;
      const lives = [-2, -1, 0, 1, 2].map((z) => ({
        ...knownRate(weibull(median * Math.exp(sd * z), 2 + (k % 6))),
        weight: [0.1, 0.2, 0.4, 0.2, 0.1][z + 2] ?? 0,
      }));
      const costs = plain(1, [5, 10, 25, 50][k % 4] ?? 5);
      const best = costLeastInterval(lives, limits, costs, grid);
      const days = costLeastDays(lives, best, limits, costs, 0, grid);
      expect(days === null, `${k}`).toBe(best.days === null);
    }
  });

  test('where waiting is cheapest for good, no low point before the end tempts anyone to go', () => {
    const lives = [
      { ...knownRate(weibull(25, 2)), weight: 0.1 },
      { ...knownRate(weibull(1500, 2)), weight: 0.9 },
    ];
    const grid = costGrid(730);
    const best = costLeastInterval(lives, limits, plain(1, 5), grid);
    expect(best.days).toBeNull();
    expect(costLeastDays(lives, best, limits, plain(1, 5), 0, grid)).toBeNull();
  });

  test('with no news the date stands still while the days go by', () => {
    const costs = plain(1, 8);
    const grid = costGrid(730, 1.03);
    const life = weibull(400, 3);
    const best = costLeastInterval([knownRate(life)], limits, costs, grid);
    const later = passageOf((t) => life.chanceBy(60 + t));
    const aged: RateComponent = { ...knownRate(life), passage: () => later };
    const days = costLeastDays([aged], best, limits, costs, 60, grid) ?? 0;
    expect(Math.abs(60 + days - (best.days ?? 0))).toBeLessThan(1);
  });

  test('a dearer plug, or a fuller bore, never moves the visit later', () => {
    const grid = costGrid(730);
    const daysAt = (event: number, occlusion: number) => {
      const line = lineOf(occlusion, 0.002, 0.6);
      const costs = plain(1, event);
      const best = costLeastInterval(line.components, limits, costs, grid);
      return costLeastDays(line.components, best, limits, costs, 0, grid) ?? Infinity;
    };
    expect(daysAt(25, 0.1)).toBeLessThanOrEqual(daysAt(8, 0.1));
    expect(daysAt(100, 0.1)).toBeLessThanOrEqual(daysAt(25, 0.1));
    expect(daysAt(25, 0.3)).toBeLessThanOrEqual(daysAt(25, 0.1));
  });

  test('visits that get dearer with deposit and crust come earlier', () => {
    const line = lineOf(0.03, 0.001, 0.3);
    const days = (costs: LineCosts) =>
      costLeastInterval(line.components, limits, costs, costGrid(730)).days ?? Infinity;
    const base = plain(1, 25);
    expect(days({ ...base, pastDearLimit: 2 })).toBeLessThan(days(base));
    expect(days({ ...base, hardenedPerDay: 0.02, softDays: 91 })).toBeLessThan(days(base));
  });
});

/** The defining fraction by Simpson's rule on 2,000 panels: independent of the code under test. */
function costAt(chanceBy: (t: number) => number, interval: number, visit: number, event: number): number {
  const panels = 2000;
  let integral = 0;
  for (let i = 0; i <= panels; i++) {
    const weight = i === 0 || i === panels ? 1 : i % 2 === 1 ? 4 : 2;
    integral += (weight * (1 - chanceBy((i * interval) / panels)) * interval) / panels / 3;
  }
  const passed = chanceBy(interval);
  return (visit * (1 - passed) + event * passed) / integral;
}
