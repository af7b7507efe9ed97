import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { order } from '../../src/actions/night/orderVisits.js';
import { addDays, dayNumber, type IsoDate, weekdayOf } from '../../src/domain/calendar/isoDate.js';
import { DEFAULT_SETTINGS, type SettingChanges, settingsWith } from '../../src/domain/work/settings.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const MONDAY = '2026-10-05';
const HOUSES = 40;

beforeAll(async () => {
  t = await testHouse('2026-10-05T08:00:00Z');
  await fillLargeBase(t.pool, { lines: 4 * HOUSES, readingsPerLine: 3, asOfDay: dayNumber(MONDAY), seed: 5 });
  const { rows } = t.house.stores;
  const depot = randomUUID();
  await rows.insert('depot', { id: depot, name: 'North yard', latitude: 44.6, longitude: -90.3 });
  for (const name of ['Heron', 'Plover', 'Dunlin']) {
    const crew = randomUUID();
    await rows.insert('crew', { id: crew, name, depot_id: depot, people: 2 });
    for (const weekday of ['mon', 'tue', 'wed', 'thu', 'fri'])
      await rows.insert('shift', {
        id: randomUUID(),
        crew_id: crew,
        weekday,
        starts_at: '08:00',
        ends_at: '16:00',
        break_after: '12:00',
        break_minutes: 30,
        from_day: '2026-01-01',
      });
  }
  await t.house.transact({ name: 'night' }, async (stores) => {
    await estimate(t.house, stores, MONDAY, () => undefined);
    await date(t.house, stores, MONDAY, DEFAULT_SETTINGS, () => undefined);
  });
}, 120_000);

interface Ordered {
  /** Chance of plugging within a year of its lines, the worst. */
  danger: number;
  from: IsoDate;
  by: IsoDate;
  reasons: { code: string; facts: Record<string, unknown>; text: string }[];
}

/** All lines due on a day by a rule; each house in a danger of its own, .0001 to .004 a year. */
async function allDue(dueOn: IsoDate, dueRule: string, waitsUntil: IsoDate | null = null): Promise<void> {
  for (const table of ['precondition', 'work_order_task', 'work_order'])
    await t.pool.query(`DELETE FROM ${table}`);
  await t.pool.query(
    `UPDATE trend SET readings_used = 3, due_on = $1, due_rule = $2, interval_days = 91, action_chance_30d = 0,
            components = components || jsonb_build_object('waitsUntil', $3::text, 'openFrom', NULL, 'notBefore', NULL),
            plug_chance_year = rank / 10000.0
       FROM line JOIN (SELECT id, rank() OVER (ORDER BY id) FROM site) s ON s.id = site_id WHERE line.id = line_id`,
    [dueOn, dueRule, waitsUntil],
  );
}

async function orderOn(day: IsoDate, changes: SettingChanges = {}): Promise<Ordered[]> {
  await t.house.transact({ name: 'night' }, (stores) => order(t.house, stores, day, settingsWith(changes)));
  const { rows } = await t.pool.query(
    `SELECT max(plug_chance_year) AS danger, not_before::text AS from, wanted_by::text AS by, because_of AS reasons
       FROM work_order o JOIN line l ON l.site_id = o.site_id JOIN trend r ON r.line_id = l.id
      GROUP BY o.id ORDER BY danger DESC`,
  );
  return rows;
}

/** Monday after Monday: the night orders, and in the week crews do all they may. */
async function workWeeks(count: number, changes: SettingChanges = {}): Promise<Ordered[]> {
  for (let week = 0; week < count; week++) {
    await orderOn(addDays(MONDAY, 7 * week), changes);
    const { rows } = await t.pool.query(
      `UPDATE work_order SET state = 'done', done_at = now() WHERE state <> 'done' AND not_before <= $1 RETURNING id`,
      [addDays(MONDAY, 7 * week + 4)],
    );
    const ids = rows.map(({ id }) => id);
    await t.pool.query('UPDATE work_order_task SET open = false WHERE work_order_id = ANY ($1)', [ids]);
    await t.pool.query(
      `UPDATE trend SET due_on = NULL WHERE line_id IN (SELECT line_id FROM work_order_task WHERE work_order_id = ANY ($1))`,
      [ids],
    );
  }
  return orderOn(addDays(MONDAY, 7 * count), changes);
}

const mondayOf = (day: IsoDate): IsoDate => addDays(day, -((dayNumber(day) - dayNumber(MONDAY)) % 7));

/** Visits by the Monday of the week from which crews may come. */
function byWeek(orders: readonly Ordered[]): Map<IsoDate, number> {
  const weeks = new Map<IsoDate, number>();
  for (const { from } of orders) {
    const week = from < MONDAY ? MONDAY : mondayOf(from);
    weeks.set(week, (weeks.get(week) ?? 0) + 1);
  }
  return weeks;
}

test('what is late and in little danger is spread over the weeks to come, the worst first, and says why', async () => {
  await allDue('2026-09-01', 'hardening');
  const orders = await orderOn(MONDAY);
  expect(orders).toHaveLength(HOUSES);
  const weeks = byWeek(orders);
  // 42 days: this week and six more, of which the last ends after them.
  expect(weeks.size).toBeGreaterThanOrEqual(6);
  for (const n of weeks.values()) expect(n).toBeLessThanOrEqual(9);
  const days = orders.map(({ by }) => (by < MONDAY ? MONDAY : by));
  expect(days).toEqual([...days].sort());
  for (const { from, by, reasons } of orders.filter((each) => each.by > MONDAY)) {
    expect(by <= addDays(MONDAY, 42)).toBe(true);
    expect([weekdayOf(from), from]).toEqual(['mon', mondayOf(by)]);
    const why = reasons.find(({ code }) => code === 'late_spread');
    expect(why?.facts).toMatchObject({ dueOn: '2026-09-01', on: by });
    expect(why?.text).toContain(`Due since 2026-09-01; comes by ${by}`);
  }
});

test('no night puts off again what waits, and none orders it twice', async () => {
  await allDue('2026-09-01', 'hardening');
  const first = await orderOn(MONDAY);
  expect(await orderOn(addDays(MONDAY, 1))).toEqual(first);
  expect(await orderOn(addDays(MONDAY, 7))).toEqual(first);
});

test.each([
  ['promised by its care terms', 'care_terms', '2026-09-01', {}],
  ['past the day of its danger', 'hardening', '2026-10-01', {}],
  ['late, where the owner lets nothing wait', 'hardening', null, { visits: { lateSpreadDays: 0 } }],
] as const)('what is %s keeps its day', async (_, rule, waitsUntil, changes) => {
  await allDue('2026-09-01', rule, waitsUntil);
  const orders = await orderOn(MONDAY, changes);
  expect(orders).toHaveLength(HOUSES);
  for (const { by } of orders) expect(by).toBe('2026-09-01');
});

test('what may wait a fortnight is done within it', async () => {
  await allDue('2026-09-01', 'hardening', '2026-10-19');
  const orders = await orderOn(MONDAY);
  for (const { by } of orders) expect(by <= '2026-10-19').toBe(true);
  expect(byWeek(orders).size).toBeGreaterThanOrEqual(2);
});

test('a heap is spread over the weeks around its usual one: none after its due day, none more sooner than is set', async () => {
  const due = '2026-12-01';
  await allDue(due, 'hardening');
  const orders = await workWeeks(8);
  expect(orders).toHaveLength(HOUSES);
  for (const { from, by, reasons } of orders) {
    expect(by <= due && from <= by).toBe(true);
    // 21 days and a quarter of 91 days: 21.
    expect(from >= addDays(due, -21)).toBe(true);
    const sooner = reasons.find(({ code }) => code === 'levelled');
    expect(sooner?.facts['daysSooner'] ?? 0).toBe(dayNumber(due) - dayNumber(by));
  }
  const weeks = byWeek(orders);
  // The usual week, the one before and the one after: 14, 13 and 13 or so.
  expect([...weeks.keys()].sort()).toEqual(['2026-11-09', '2026-11-16', '2026-11-23']);
  for (const n of weeks.values()) expect(n).toBeLessThanOrEqual(16);
});

test('as an owner may set it, a heap below the hours of its week stays one', async () => {
  await allDue('2026-12-01', 'hardening');
  const plain = { visits: { levelFromShare: 1 } };
  const orders = await workWeeks(8, plain);
  expect(Math.max(...byWeek(orders).values())).toBeGreaterThan(20);
});
