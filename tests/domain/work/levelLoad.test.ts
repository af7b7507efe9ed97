import { describe, expect, test } from 'vitest';
import { Random } from '../../../src/domain/routing/random.js';
import { type ComingVisit, levelLoad } from '../../../src/domain/work/levelLoad.js';

const weeks = (...hours: number[]) => hours.map((capacityHours, i) => ({ mondayDay: 7 * i, capacityHours }));
const visit = (id: string, ownDay: number, more: Partial<ComingVisit> = {}): ComingVisit => ({
  id,
  hours: 1,
  ownDay,
  latestDay: ownDay,
  late: false,
  earliestDay: 0,
  costADay: 1,
  fixed: false,
  ...more,
});
const late = (id: string, costADay: number, more: Partial<ComingVisit> = {}) =>
  visit(id, 1, { earliestDay: 1, latestDay: 35, late: true, costADay, ...more });
const weekOf = (day: number) => Math.floor(day / 7);

describe('visits that come due in a heap', () => {
  test('come sooner, into weeks below their hours too; on the Friday, as crews have the week', () => {
    // Three in week 2, weeks of ten hours: one each.
    const moved = levelLoad([visit('a', 15), visit('b', 15), visit('c', 15)], weeks(10, 10, 10));
    expect([...moved.values()].sort((a, b) => a - b)).toEqual([4, 11]);
  });

  test('stay where weeks are used alike, or below the share that is left alone', () => {
    expect(levelLoad([visit('a', 1), visit('b', 8), visit('c', 15)], weeks(9, 9, 9))).toEqual(new Map());
    expect(levelLoad([visit('a', 8), visit('b', 8)], weeks(10, 10), 0.2)).toEqual(new Map());
    expect(levelLoad([visit('a', 8), visit('b', 8)], weeks(10, 10), 0.1).size).toBe(1);
  });

  test('as an owner may set it, only what is more work than hours moves', () => {
    expect(levelLoad([visit('a', 8), visit('b', 9)], weeks(2, 2), 1)).toEqual(new Map());
    expect(levelLoad([visit('a', 8), visit('b', 9)], weeks(2, 1), 1).size).toBe(1);
  });

  test('the cheapest to move goes, and none before its earliest day', () => {
    const dear = visit('dear', 8, { costADay: 5 });
    expect([...levelLoad([dear, visit('cheap', 8)], weeks(10, 10)).keys()]).toEqual(['cheap']);
    // Earliest on Saturday: no working day is left in that week.
    expect(levelLoad([dear, visit('cheap', 8, { earliestDay: 5 })], weeks(10, 10)).get('dear')).toBe(4);
  });

  test('a week without hours is left by all that may', () => {
    expect(levelLoad([visit('a', 8), visit('b', 8, { earliestDay: 7 })], weeks(5, 0))).toEqual(
      new Map([['a', 4]]),
    );
  });

  test('a fixed order takes its room, and where none is left a visit stays where it is due', () => {
    const fixed = visit('x', 1, { fixed: true });
    expect(levelLoad([fixed, visit('a', 8)], weeks(1, 1))).toEqual(new Map());
  });
});

describe('visits that are late and may wait', () => {
  test('are spread over the weeks, the dearest to wait first', () => {
    const dangers = [3, 9, 1, 7, 5, 2];
    const days = levelLoad(
      dangers.map((danger) => late(`v${danger}`, danger)),
      weeks(10, 10, 10),
    );
    const week = (danger: number) => weekOf(days.get(`v${danger}`) ?? 1);
    expect([9, 7, 5, 3, 2, 1].map(week)).toEqual([0, 0, 1, 1, 2, 2]);
  });

  test('one in danger keeps its day, and one that may wait little waits no longer', () => {
    const days = levelLoad(
      [late('now', 9, { latestDay: 1 }), late('soon', 1, { latestDay: 9 }), late('any', 2)],
      weeks(10, 10, 10),
    );
    expect(days.has('now')).toBe(false);
    // Tuesday of the second week, its last day.
    expect(days.get('soon')).toBe(9);
    expect(days.get('any')).toBe(18);
  });
});

/** Visits of every sort: due in heaps, late, fixed, long and short, with room and without. */
function anyVisits(random: Random): ComingVisit[] {
  const under = (n: number) => random.below(n);
  const heap = under(42);
  return Array.from({ length: 1 + under(60) }, (_, i) => {
    const hours = 0.5 + under(8) / 2;
    const costADay = under(5);
    const fixed = under(6) === 0;
    if (under(3) === 0)
      return visit(`v${i}`, 2, {
        hours,
        costADay,
        fixed,
        earliestDay: 2,
        latestDay: 2 + under(42),
        late: true,
      });
    const ownDay = under(2) === 0 ? heap : under(42);
    const earliestDay = Math.max(0, ownDay - under(22));
    return visit(`v${i}`, ownDay, { hours, costADay, fixed, earliestDay, latestDay: ownDay + under(15) });
  });
}

describe('whatever the visits and weeks', () => {
  const ROUNDS = 300;
  const cases = Array.from({ length: ROUNDS }, (_, seed) => {
    const random = new Random(seed + 1);
    const visits = anyVisits(random);
    const all = weeks(...Array.from({ length: 6 }, () => random.below(30)));
    return { random, visits, all, days: levelLoad(visits, all) };
  });
  const dayOf = (days: Map<string, number>, each: ComingVisit) => days.get(each.id) ?? each.ownDay;
  const hoursOf = (visits: readonly ComingVisit[], days: Map<string, number>) =>
    Array.from({ length: 6 }, (_, week) =>
      visits.filter((each) => weekOf(dayOf(days, each)) === week).reduce((sum, { hours }) => sum + hours, 0),
    );

  test('none later than its latest day, none sooner than its earliest; fixed ones never moved', () => {
    let moved = 0;
    for (const { visits, days } of cases)
      for (const each of visits) {
        const day = dayOf(days, each);
        expect(day).toBeLessThanOrEqual(each.latestDay);
        expect(day).toBeGreaterThanOrEqual(each.earliestDay);
        if (each.fixed) expect(day).toBe(each.ownDay);
        if (day !== each.ownDay) moved++;
      }
    expect(moved).toBeGreaterThan(ROUNDS);
  });

  test('the fullest week is no fuller than before, and no more hours are too many', () => {
    let lower = 0;
    for (const { visits, all, days } of cases) {
      const [before, after] = [hoursOf(visits, new Map()), hoursOf(visits, days)];
      const share = (hours: number, week: number) => {
        const there = all[week]?.capacityHours ?? 0;
        return there > 0 ? hours / there : hours > 0 ? Infinity : 0;
      };
      const peak = (hours: number[]) => Math.max(...hours.map(share));
      const over = (hours: number[]) =>
        hours.reduce((sum, n, week) => sum + Math.max(0, n - (all[week]?.capacityHours ?? 0)), 0);
      expect(peak(after)).toBeLessThanOrEqual(peak(before) + 1e-9);
      expect(over(after)).toBeLessThanOrEqual(over(before) + 1e-9);
      if (peak(after) < peak(before)) lower++;
    }
    expect(lower).toBeGreaterThan(ROUNDS / 3);
  });

  test('the order in which they are given decides nothing, and the same visits get the same days', () => {
    for (const { random, visits, all, days } of cases) {
      const shuffled = visits.map((each) => ({ each, at: random.unit() })).sort((a, b) => a.at - b.at);
      expect(
        levelLoad(
          shuffled.map(({ each }) => each),
          all,
        ),
      ).toEqual(days);
    }
  });
});
