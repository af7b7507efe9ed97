import { expect, test } from 'vitest';
import { dayScale, dayTicks, valueScale } from '../../src/papers/axes.js';

const FIELD = { left: 100, right: 700, top: 0, bottom: 300 };

test('days stand evenly: the middle day in the middle', () => {
  const x = dayScale('2026-06-01', '2026-06-21', FIELD);
  expect([x('2026-06-01'), x('2026-06-11'), x('2026-06-21')]).toEqual([100, 400, 700]);
});

test('one day alone stands in the middle', () => {
  expect(dayScale('2026-06-01', '2026-06-01', FIELD)('2026-06-01')).toBe(400);
});

test.each([
  ['2026-06-01', '2026-06-04'],
  ['2026-06-01', '2026-07-15'],
  ['2024-02-12', '2027-02-09'],
  ['1999-01-01', '2031-01-01'],
  ['2026-06-01', '2026-06-01'],
])('ticks from %s to %s are whole days inside the field, apart, the first with its year', (first, last) => {
  const ticks = dayTicks(first, last, FIELD);
  expect(ticks.length).toBeGreaterThanOrEqual(2);
  expect(ticks[0]?.label).toMatch(/\d{4}$/);
  for (const [i, { at }] of ticks.entries()) {
    expect(at).toBeGreaterThanOrEqual(100);
    expect(at).toBeLessThanOrEqual(700);
    if (i > 0) expect(at - (ticks[i - 1]?.at ?? 0)).toBeGreaterThan(40);
  }
});

test('a scale of one value still has room, and round ends hold all values', () => {
  const y = valueScale([3, 3], [300, 0], String);
  expect(y(3)).toBe(300);
  expect(valueScale([0, 97], [0, 600], String).ticks.at(-1)?.label).toBe('100');
  expect(valueScale([0, 97], [0, 600], String, 'exact')(97)).toBe(600);
});
