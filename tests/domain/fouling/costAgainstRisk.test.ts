import { expect, test } from 'vitest';
import { costAgainstRisk } from '../../../src/domain/fouling/costAgainstRisk.js';
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
