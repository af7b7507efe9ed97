import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { addDays, dayNumber, type IsoDate } from '../../src/domain/calendar/isoDate.js';
import { DEFAULT_SETTINGS } from '../../src/domain/work/settings.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const MONDAY = '2026-10-05';
let quiet: { line_id: string; occlusion: number };
let plugId: string;

const nightOf = (day: IsoDate) =>
  t.house.transact({ name: 'night' }, async (stores) => {
    await estimate(t.house, stores, day, () => undefined);
    await date(t.house, stores, day, DEFAULT_SETTINGS, () => undefined);
  });
const get = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
const trend = async (): Promise<Json> => (await get(`/v1/lines/${quiet.line_id}/trend`)).trend;
const reviews = async (verdict: string): Promise<Json[]> =>
  (await get(`/v1/reading-reviews?verdict=${verdict}&lineId=${quiet.line_id}`)).items;
const judge = (verdict: string) =>
  t.call('dispatcher', {
    method: 'POST',
    url: `/v1/reading-reviews/${plugId}/verdict`,
    payload: { verdict },
  });

beforeAll(async () => {
  t = await testHouse('2026-10-05T22:00:00Z');
  await fillLargeBase(t.pool, { lines: 80, readingsPerLine: 6, asOfDay: dayNumber(MONDAY), seed: 7 });
  await nightOf(MONDAY);
  const { rows } = await t.pool.query(
    `SELECT line_id, occlusion FROM trend r
      WHERE (SELECT max(cleaned_at) FROM clean c WHERE c.line_id = r.line_id) BETWEEN $1::date - 200 AND $1::date - 60
      ORDER BY plug_chance_year, rate_per_month LIMIT 1`,
    [MONDAY],
  );
  quiet = rows[0];
}, 120_000);

test('a plug that nobody could foresee waits for a person, and the line is due at once meanwhile', async () => {
  expect(await reviews('open')).toEqual([]);
  const found = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections',
    payload: {
      lineId: quiet.line_id,
      observedAt: `${MONDAY}T20:00:00Z`,
      phase: 'no_cleaning',
      plugged: { cause: 'deposit' },
    },
  });
  expect(found.status, found.text).toBe(201);
  plugId = found.body.id;
  const before = await trend();
  await nightOf(addDays(MONDAY, 1));
  const [review] = await reviews('open');
  expect(review).toMatchObject({ inspectionId: plugId, method: null, occlusion: null, verdict: 'open' });
  expect(review.weight).toBeLessThan(0.5);
  expect(review.suspicion).toMatch(/^found plugged by deposit although the line was believed at \d+ %/);
  const now = await trend();
  expect([now.dueRule, now.dueOn]).toEqual(['over_limit', MONDAY]);
  // Nobody has said that it was deposit: what is believed of the rate hardly moves.
  expect(now.ratePerMonth.median).toBeLessThan(1.3 * before.ratePerMonth.median);
  const doubted = await get('/v1/reports/doubted-readings');
  expect(doubted.items.map((item: Json) => item.inspectionId)).toContain(plugId);
});

test('confirmed, it is certain: the line is full, and thought to foul faster', async () => {
  const doubted = await trend();
  expect((await judge('confirmed')).body).toMatchObject({ verdict: 'confirmed', decidedBy: 'dispatcher' });
  await nightOf(addDays(MONDAY, 2));
  const now = await trend();
  expect(now.occlusion.mean).toBeGreaterThan(0.9);
  expect(now.ratePerMonth.median).toBeGreaterThan(1.5 * doubted.ratePerMonth.median);
  expect(now.dueRule).toBe('over_limit');
  expect(await reviews('open')).toEqual([]);
});

test('dismissed, since something else stopped it, it counts no more, not for the dates either', async () => {
  await judge('dismissed');
  await nightOf(addDays(MONDAY, 3));
  const now = await trend();
  expect(now.occlusion.mean).toBeCloseTo(quiet.occlusion, 1);
  expect(now.dueOn === MONDAY && now.dueRule === 'over_limit').toBe(false);
  expect(await reviews('open')).toEqual([]);
  expect(await reviews('dismissed')).toHaveLength(1);
});
