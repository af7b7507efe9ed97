import { expect, test } from 'vitest';
import { type ComingVisit, levelLoad } from '../../../src/domain/work/levelLoad.js';

const weeks = (...hours: number[]) => hours.map((capacityHours, i) => ({ mondayDay: 7 * i, capacityHours }));
const visit = (id: string, latestDay: number, more: Partial<ComingVisit> = {}): ComingVisit => ({
  id,
  hours: 1,
  latestDay,
  earliestDay: 0,
  fixed: false,
  ...more,
});

test('where all fits nothing moves', () => {
  expect(levelLoad([visit('a', 8), visit('b', 9)], weeks(2, 2))).toEqual(new Map());
});

test('too much for a week goes to the week before, on the same weekday; who can least move stays', () => {
  // Week 1 holds one of a (may come from day 0), b (from day 7 only).
  const moved = levelLoad([visit('a', 8), visit('b', 9, { earliestDay: 7 })], weeks(2, 1));
  expect(moved).toEqual(new Map([['a', 1]]));
});

test('weeks fill one another: three visits of the last week spread over three', () => {
  const moved = levelLoad([visit('a', 15), visit('b', 15), visit('c', 15)], weeks(1, 1, 1));
  expect([...moved.values()].sort()).toEqual([1, 8]);
});

test('a fixed order takes its room, and where none is left a visit stays where it is due', () => {
  const fixed = visit('x', 1, { fixed: true });
  expect(levelLoad([fixed, visit('a', 8), visit('b', 9)], weeks(1, 1))).toEqual(new Map());
});

test('never later than due, never earlier than may be, no week over its hours that need not be', () => {
  let seed = 1;
  const random = () => {
    seed = (seed * 48_271) % 2_147_483_647;
    return seed / 2_147_483_647;
  };
  for (let round = 0; round < 200; round++) {
    const count = 1 + Math.floor(random() * 30);
    const visits = Array.from({ length: count }, (_, i) => {
      const latestDay = Math.floor(random() * 35);
      return visit(`v${i}`, latestDay, { earliestDay: Math.max(0, latestDay - Math.floor(random() * 21)) });
    });
    const all = weeks(3, 4, 2, 3, 5);
    const days = levelLoad(visits, all);
    const dayOf = (each: ComingVisit) => days.get(each.id) ?? each.latestDay;
    const load = (of: (each: ComingVisit) => number) =>
      all.map((_, week) => visits.filter((each) => Math.floor(of(each) / 7) === week).length);
    for (const each of visits) {
      expect(dayOf(each)).toBeLessThanOrEqual(each.latestDay);
      expect(dayOf(each)).toBeGreaterThanOrEqual(each.earliestDay);
    }
    const over = (loads: number[]) =>
      loads.reduce((sum, n, week) => sum + Math.max(0, n - (all[week]?.capacityHours ?? 0)), 0);
    expect(over(load(dayOf))).toBeLessThanOrEqual(over(load(({ latestDay }) => latestDay)));
  }
});
