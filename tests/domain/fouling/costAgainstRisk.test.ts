import { expect, test } from 'vitest';
import { costAgainstRisk, riskCurve } from '../../../src/domain/fouling/costAgainstRisk.js';
import type { FirstPassage, RateComponent } from '../../../src/domain/fouling/passage.js';
import { settingsWith } from '../../../src/domain/work/settings.js';

const atOnce: FirstPassage = { horizonDays: 3650, chanceBy: () => 1, quantile: () => 0 };
const component = {
  weight: 1,
  passage: () => atOnce,
  passageAfterClean: () => atOnce,
} as unknown as RateComponent;

test('a line that is past its limit as soon as it was cleaned costs an event a day, not an infinity', () => {
  const costs = { visit: 1, event: 20, pastDearLimit: 0, hardenedPerDay: 0, softDays: null };
  const points = costAgainstRisk(
    [{ components: [component], limits: { action: 0.05, plug: 0.1 }, costs }],
    [0.01],
    settingsWith({}),
  );
  for (const point of points) {
    // 365.25 cycles a year, each ended by the event: no visit, 365.25 events, 365.25 × 20.
    expect(point.visitsPerLineYear).toBeCloseTo(0, 9);
    expect(point.plugsPerLineYear).toBeCloseTo(365.25, 6);
    expect(point.costPerLineYear).toBeCloseTo(7305, 4);
  }
});

/** Never passes any limit: only its visits cost. */
const never: FirstPassage = { horizonDays: 3650, chanceBy: () => 0, quantile: () => null };
const clean = { weight: 1, passage: () => never, passageAfterClean: () => never } as unknown as RateComponent;

test('lines of a system come together at the earliest of their rules, and share the visit', () => {
  const costs = { visit: 1, event: 20, pastDearLimit: 0, hardenedPerDay: 0, softDays: null };
  const line = { components: [clean], limits: { action: 0.5, plug: 0.9 }, costs, ownRisk: 0.02 };
  const settings = settingsWith({ intervals: { maxDays: 365 } });
  const curve = riskCurve([0.01], settings);
  curve.addSystem(
    [
      { ...line, capDays: 91 },
      { ...line, capDays: null },
    ],
    2,
  );
  const of = (rule: string) => curve.points().find((point) => point.rule === rule);
  // Alone neither has a reason to be seen before a year is over.
  expect(of('yearly_risk')?.visitsPerLineYear).toBeCloseTo(365.25 / 365, 2);
  expect(of('yearly_risk')?.costPerLineYear).toBeCloseTo(365.25 / 365, 2);
  // Hardening of the one brings both every 91 days: 4.01 visits a line, each bearing half of them.
  for (const rule of ['all_rules', 'today']) {
    expect(of(rule)?.medianIntervalDays).toBe(91);
    expect(of(rule)?.visitsPerLineYear).toBeCloseTo(4.014, 2);
    expect(of(rule)?.costPerLineYear).toBeCloseTo(2.007, 2);
  }
});
