import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { addDays, dayNumber } from '../../src/domain/calendar/isoDate.js';
import { settingsWith } from '../../src/domain/work/settings.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const MONDAY = '2026-10-05';
const FRIDAY = addDays(MONDAY, 4);
/** No rule on action limits, so that what is tested rules. */
const settings = settingsWith({ intervals: { overLimitChance: 1 } });

const night = async (day: string) => {
  await t.house.transact({ name: 'night' }, (stores) => estimate(t.house, stores, day, () => undefined));
  return t.house.transact({ name: 'night' }, (stores) =>
    date(t.house, stores, day, settings, () => undefined),
  );
};

let serial = 0;
const add = (table: string, row: Record<string, unknown>) =>
  t.house.stores.rows.insert(table, {
    id: `018f0000-0000-7000-8000-${String(++serial).padStart(12, '0')}`,
    ...row,
  });

const sites: string[] = [];
const trendsOf = async (site: number) =>
  (
    await t.pool.query(
      `SELECT t.due_on, t.due_rule, t.due_reasons, t.as_of, l.kind FROM trend t JOIN line l ON l.id = t.line_id WHERE l.site_id = $1 ORDER BY l.id`,
      [sites[site]],
    )
  ).rows;

beforeAll(async () => {
  t = await testHouse('2026-10-05T08:00:00Z');
  await fillLargeBase(t.pool, { lines: 40, readingsPerLine: 4, asOfDay: dayNumber(MONDAY), seed: 11 });
  const { rows } = await t.pool.query('SELECT DISTINCT site_id FROM line ORDER BY site_id');
  sites.push(...rows.map(({ site_id }) => String(site_id)));
  const decided = { decided_by: 'the owner of the house', decided_on: '2026-10-01', risk_told: '5 % a year' };
  await add('decision', { ...decided, site_id: sites[0], kind: 'refusal', task: 'dig_and_replace' });
  await add('decision', { ...decided, site_id: sites[1], kind: 'refusal', task: null });
  await add('decision', {
    ...decided,
    site_id: sites[2],
    kind: 'postponement',
    task: 'jet',
    until_day: FRIDAY,
  });
  const from = { site_id: sites[3], from_day: '2025-01-01' };
  await add('care_terms', { ...from, interval_days: 5, to_day: '2026-01-31' });
  await add('care_terms', { ...from, interval_days: 20, to_day: null });
  await night(MONDAY);
});

test('a refused dig leaves the cleaning due; a refusal of everything leaves no day', async () => {
  for (const { due_on, due_rule } of await trendsOf(0)) {
    expect(due_on).not.toBeNull();
    expect(due_rule).not.toBe('refused');
  }
  for (const { due_on, due_rule } of await trendsOf(1)) expect([due_on, due_rule]).toEqual([null, 'refused']);
});

test('a postponed visit is not before its day, and once that day is there the line is dated anew', async () => {
  for (const { due_on } of await trendsOf(2)) expect(String(due_on) >= FRIDAY).toBe(true);
  expect((await night(addDays(MONDAY, 1))).worked).toBe(0);
  expect((await night(FRIDAY)).worked).toBe(4);
  for (const { due_reasons, as_of } of await trendsOf(2)) {
    expect(as_of).toBe(FRIDAY);
    expect(due_reasons.map(({ code }: { code: string }) => code)).not.toContain('postponed');
  }
});

test('of several care terms those in force count: every 20 days, not the 5 that ended', async () => {
  for (const { due_reasons } of await trendsOf(3)) {
    const told = due_reasons.map(({ text }: { text: string }) => text).join(' ');
    expect(told).toContain('every 20 days');
    expect(told).not.toContain('every 5 days');
  }
});

test('a season closed to work outside moves due dates out of it, but not those of floor drains', async () => {
  const day = addDays(FRIDAY, 1);
  const season = { from_day: addDays(day, 5), to_day: addDays(day, 700), reason: 'frost' };
  await add('closed_season', { ...season, tasks: ['jet', 'hose_flush'], outside_only: true });
  expect((await night(day)).worked).toBe(40);
  const { rows } = await t.pool.query(
    `SELECT l.kind, t.due_on, t.due_rule FROM trend t JOIN line l ON l.id = t.line_id WHERE t.due_on BETWEEN $1 AND $2`,
    [season.from_day, season.to_day],
  );
  expect(rows.length).toBeGreaterThan(0);
  expect(new Set(rows.map(({ kind }) => kind))).toEqual(new Set(['floor_drain']));
});
