import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { order } from '../../src/actions/night/orderVisits.js';
import { addDays, dayNumber } from '../../src/domain/calendar/isoDate.js';
import { settingsWith } from '../../src/domain/work/settings.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const MONDAY = '2026-10-05';
const settings = settingsWith({ surveys: { perWeek: 5 } });

const orderOn = (day: string) =>
  t.house.transact({ name: 'night' }, (stores) => order(t.house, stores, day, settings));

/** Orders for first surveys by the Monday of the week they are wanted in. */
async function surveysByWeek(): Promise<Map<string, number>> {
  const { rows } = await t.pool.query(
    `SELECT date_trunc('week', wanted_by)::date::text AS week, count(*)::int AS n FROM work_order WHERE cause = 'first_survey' GROUP BY 1 ORDER BY 1`,
  );
  return new Map(rows.map(({ week, n }) => [week, n]));
}

beforeAll(async () => {
  t = await testHouse('2026-10-05T08:00:00Z');
  // forty houses of four systems each; nobody measured anything, all thought to be due
  await fillLargeBase(t.pool, { lines: 160, readingsPerLine: 1, asOfDay: dayNumber(MONDAY), seed: 5 });
  await t.house.transact({ name: 'night' }, async (stores) => {
    await estimate(t.house, stores, MONDAY, () => undefined);
    await date(t.house, stores, MONDAY, settings, () => undefined);
  });
  await t.pool.query(`UPDATE trend SET readings_used = 0, due_on = $1, due_rule = 'risk'`, [MONDAY]);
});

test('a book without readings is surveyed over weeks: later nights add no more to a week than it holds', async () => {
  await orderOn(MONDAY);
  const first = await surveysByWeek();
  expect(first.size).toBeGreaterThanOrEqual(3);
  for (const n of first.values()) expect(n).toBeLessThanOrEqual(5);
  for (let night = 1; night <= 4; night++) await orderOn(addDays(MONDAY, night));
  for (const n of (await surveysByWeek()).values()) expect(n).toBeLessThanOrEqual(5);
});

test('a survey done early frees no place in its week', async () => {
  const before = await surveysByWeek();
  await t.pool.query(
    `UPDATE work_order SET state = 'done', done_at = now() WHERE cause = 'first_survey' AND wanted_by < $1`,
    [addDays(MONDAY, 7)],
  );
  await orderOn(addDays(MONDAY, 4));
  expect((await surveysByWeek()).get(MONDAY)).toBe(before.get(MONDAY));
});
