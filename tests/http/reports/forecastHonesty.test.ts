import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { scoreForecasts } from '../../../src/actions/night/scoreForecasts.js';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import { fillLargeBase } from '../../bench/night/largeBase.js';
import { type TestHouse, testHouse } from '../../setup/testHouse.js';

let t: TestHouse;
const DAY = '2026-10-01';
const URL = '/v1/reports/forecast-honesty';

const score = (day: string) =>
  t.house.transact({ name: 'night' }, (stores) => scoreForecasts(t.house, stores, day));

/** A forecast of `.1` within 60 days as a night would have stored it. */
async function forecast(
  lineId: string,
  asOf: string,
  chances = '{.01,.02,.03,.05,.1,.2,.5,.9}',
  fitId: string = randomUUID(),
): Promise<void> {
  await t.pool.query(
    `INSERT INTO trend_history (line_id, as_of, fit_id, engine_version, evidence_hash, because, occlusion, occlusion_sd, rate_per_month, action_limit, plug_limit,
                                readings_used, due_on, due_rule, action_chances)
     VALUES ($1, $2, $4, 'test', 'a', 'evidence', .2, .05, .03, .5, .9, 2, '2026-11-30', 'risk', $3)`,
    [lineId, asOf, chances, fitId],
  );
}

async function found(lineId: string, at: string, occlusion: number | null, cause: string | null = null) {
  const { rows } = await t.pool.query(
    `INSERT INTO inspection (id, line_id, observed_at, received_at, author, phase, method, raw, conversion_version, occlusion, standard_error, bound, plugged, plug_cause)
     VALUES (gen_random_uuid(), $1, $2, $2, 'test', 'before_cleaning', 'camera', '{}', 1, $3, CASE WHEN $3::float8 IS NULL THEN NULL ELSE .05 END, 'exact', $4::text IS NOT NULL, $4) RETURNING id`,
    [lineId, at, occlusion, cause],
  );
  return String(rows[0].id);
}

const scores = async () =>
  (await t.pool.query('SELECT * FROM forecast_score ORDER BY found_on, line_id')).rows;

let lines: string[];

beforeAll(async () => {
  t = await testHouse('2026-12-02T12:00:00Z');
  await fillLargeBase(t.pool, { lines: 40, readingsPerLine: 1, asOfDay: dayNumber('2026-09-01'), seed: 5 });
  lines = (await t.pool.query('SELECT id FROM line ORDER BY id')).rows.map(({ id }) => String(id));
});

test('before the first night there is nothing to say, and the picture says so', async () => {
  const { body, status } = await t.call('owner', { method: 'GET', url: URL });
  expect(status).toBe(200);
  expect(body).toEqual({
    asOf: '2026-12-02',
    lines: 40,
    count: 0,
    off: false,
    findings: [],
    methods: [],
    crews: [],
    nights: [],
    items: [],
  });
  expect((await t.call('owner', { method: 'GET', url: '/v1/trends/calibration' })).body).toEqual(body);
  const svg = await t.call('owner', { method: 'GET', url: '/v1/trends/calibration.svg' });
  expect(svg.headers['content-type']).toContain('image/svg+xml');
  expect(svg.text).toContain('nothing to compare');
});

test('the next visit judges the forecast made when the visit before had come in, once', async () => {
  const [first = '', second = '', third = '', fourth = ''] = lines;
  // Told on the 1st and again, without news, on the 1st of the month after: the first telling is judged.
  await forecast(first, DAY);
  await forecast(first, '2026-11-01');
  await found(first, '2026-11-30T15:00:00Z', 0.3);
  // Seen twice since: the second visit found what the clean of the first had left.
  await forecast(second, DAY);
  await found(second, '2026-10-31T15:00:00Z', 0.9);
  await t.pool.query(
    `INSERT INTO clean (id, line_id, cleaned_at, received_at, author) VALUES (gen_random_uuid(), $1, '2026-10-31T15:30:00Z', now(), 'test')`,
    [second],
  );
  await found(second, '2026-11-29T15:00:00Z', 0.1);
  // Plugged and called.
  await forecast(third, DAY);
  await found(third, '2026-10-15T15:00:00Z', null, 'deposit');
  // Ice is no fouling.
  await forecast(fourth, DAY);
  await found(fourth, '2026-10-15T15:00:00Z', null, 'ice');

  expect((await score('2026-12-01')).judged).toBe(3);
  expect(
    (await scores()).map(({ line_id, forecast_of, expected, passed }) => [
      line_id,
      forecast_of,
      expected,
      Math.round(passed * 1000) / 1000,
    ]),
  ).toEqual([
    // Called on the 15th, due on 30 November: judged there, 60 days on, chance .1.
    [third, DAY, 0.1, 1],
    // 30 days on: chance .05.
    [second, DAY, 0.05, 1],
    [first, DAY, 0.1, 0],
  ]);
  expect((await score('2026-12-01')).judged).toBe(0);
});

test('a finding withdrawn takes its score along', async () => {
  await t.pool.query(
    `UPDATE inspection SET withdrawn_at = now(), withdrawn_because = 'wrong line' WHERE author = 'test' AND occlusion = 0.3`,
  );
  await score('2026-12-01');
  expect(await scores()).toHaveLength(2);
});

test('the owner sees where the model is off; nobody else does', async () => {
  for (const line of lines.slice(10)) {
    await forecast(line, DAY);
    await found(line, '2026-11-30T15:00:00Z', 0.8);
  }
  await score('2026-12-01');
  const { body } = await t.call('owner', { method: 'GET', url: URL });
  expect(body).toMatchObject({ asOf: '2026-12-02', lines: 40, count: 32, off: true });
  expect(body.items[0]).toMatchObject({ name: '1 or 2 readings', count: 32, verdict: 'more' });
  // Thirty forecasts of .1, one of .05, one of .1: (3 + .05 + .1) / 32.
  expect(body.items[0].expected).toBeCloseTo(3.15 / 32, 9);
  expect(body.findings.map(({ code }: { code: string }) => code)).toEqual(['class_more', 'method_higher']);
  const csv = await t.call('owner', { method: 'GET', url: URL, headers: { accept: 'text/csv' } });
  expect(csv.text.split('\n')[0]).toBe('name,count,expected,observed,standardError,low,high,verdict');
  expect(body.methods[0]).toMatchObject({ name: 'camera', count: 31 });
  expect(body.nights[0]).toEqual({ asOf: '2026-12-01', count: 32, off: true });
  const svg = await t.call('owner', { method: 'GET', url: `${URL}.svg` });
  expect(svg.text).toContain('more often than forecast');
  expect(svg.text).not.toContain('NaN');
  expect((await t.call('dispatcher', { method: 'GET', url: URL })).status).toBe(403);
  expect((await t.call('technician', { method: 'GET', url: `${URL}.svg` })).status).toBe(403);
});

test('lines due at once are a class of their own, in figures, columns and picture', async () => {
  const [, , , , fifth = '', sixth = '', seventh = ''] = lines;
  const soon = '{.6,.65,.7,.8,.9,.95,.98,.99}';
  await forecast(fifth, DAY, soon);
  await found(fifth, '2026-10-15T15:00:00Z', 0.9);
  await forecast(sixth, DAY, soon);
  await found(sixth, '2026-10-31T15:00:00Z', 0.05);
  // Seen later than 30 days after: judged with the others of as many readings.
  await forecast(seventh, DAY, soon);
  await found(seventh, '2026-11-29T15:00:00Z', 0.9);
  expect((await score('2026-12-01')).judged).toBe(3);

  const { body } = await t.call('owner', { method: 'GET', url: '/v1/trends/calibration' });
  expect(body.items.map(({ name, count }: { name: string; count: number }) => [name, count])).toEqual([
    ['1 or 2 readings', 33],
    ['due at once', 2],
  ]);
  expect(body.count).toBe(35);
  // After 14 days .7, after 30 days .8; one of the two was past the limit.
  expect(body.items[1].expected).toBeCloseTo(0.75, 9);
  expect(body.items[1].observed).toBeCloseTo(0.5, 2);
  expect(body.items[1].verdict).toBe('too_few');
  const csv = await t.call('owner', {
    method: 'GET',
    url: '/v1/trends/calibration',
    headers: { accept: 'text/csv' },
  });
  expect(csv.text).toContain('\ndue at once,2,');
  const svg = await t.call('owner', { method: 'GET', url: '/v1/trends/calibration.svg' });
  expect(svg.text).toContain('due at once');
});

test('what was found is held against the level its own fit expected for that day, with season and lag', async () => {
  const [, , , , , , , eighth = '', ninth = ''] = lines;
  const fitId = randomUUID();
  // In the middle of these 60 days lines foul at half the pace of a year.
  const angle = (2 * Math.PI * (dayNumber(DAY) + 30)) / 365.25;
  const parameters = { seasonCos: -0.5 * Math.cos(angle), seasonSin: -0.5 * Math.sin(angle), lagDays: 20 };
  await t.pool.query(
    `INSERT INTO fit (id, as_of, kind, engine_version, parameters, lines, readings) VALUES ($1, $2, 'nightly', 'test', $3, 40, 40)`,
    [fitId, DAY, { shapes: [{ k1: 0, k2: 0, weight: 1, parameters }] }],
  );
  for (const line of [eighth, ninth]) {
    await t.pool.query('DELETE FROM trend_history WHERE line_id = $1', [line]);
    await t.pool.query('DELETE FROM inspection WHERE line_id = $1', [line]);
    await t.pool.query('DELETE FROM clean WHERE line_id = $1', [line]);
    await forecast(line, DAY, undefined, fitId);
    await found(line, '2026-11-30T15:00:00Z', 0.25);
  }
  await t.pool.query(
    `INSERT INTO clean (id, line_id, cleaned_at, received_at, author) VALUES (gen_random_uuid(), $1, '2026-09-30T15:30:00Z', now(), 'test')`,
    [ninth],
  );
  await t.pool.query('DELETE FROM forecast_score WHERE line_id = ANY ($1)', [[eighth, ninth]]);
  expect((await score('2026-12-01')).judged).toBe(2);
  const residual = async (line: string) =>
    (await scores()).find(({ line_id }) => line_id === line)?.residual as number;
  // 60 − .5 × 2 × 365.25 / 2π × sin(2π × 30 / 365.25) = 31.33 days of growth by .03 a month of 30.44 days; straight it was 60.
  expect(await residual(eighth)).toBeCloseTo(0.25 - (0.2 + (0.03 / 30.4375) * 31.33), 4);
  // Cleaned the day before: 20 × e^(−1/20) × (1 − e^−3) = 18.08 days are lost.
  expect(await residual(ninth)).toBeCloseTo(0.25 - (0.2 + (0.03 / 30.4375) * (31.33 - 18.08)), 4);
});

test('a high reading no forecast saw coming is taken for a slip as often as its fit has them, unless it is confirmed', async () => {
  const asked = lines.slice(9, 11);
  const fitId = randomUUID();
  const parameters = { seasonCos: 0, seasonSin: 0, lagDays: 0, grossShare: 0.03 };
  await t.pool.query(
    `INSERT INTO fit (id, as_of, kind, engine_version, parameters, lines, readings) VALUES ($1, $2, 'nightly', 'test', $3, 40, 40)`,
    [fitId, DAY, { shapes: [{ k1: 0, k2: 0, weight: 1, parameters }] }],
  );
  for (const table of ['trend_history', 'forecast_score', 'inspection', 'clean'])
    await t.pool.query(`DELETE FROM ${table} WHERE line_id = ANY ($1)`, [asked]);
  for (const line of asked) {
    await forecast(line, DAY, '{.0001,.0001,.0001,.0002,.0002,.1,.5,.9}', fitId);
    const reading = await found(line, '2026-10-31T15:00:00Z', 0.75);
    if (line === asked[1])
      await t.pool.query(
        `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion, verdict) VALUES ($1, $2, .1, .9, 'confirmed')`,
        [reading, line],
      );
  }
  expect((await score('2026-12-01')).judged).toBe(2);
  const passed = async (line = '') =>
    (await scores()).find(({ line_id }) => line_id === line)?.passed as number;
  expect(await passed(asked[0])).toBeLessThan(0.1);
  expect(await passed(asked[1])).toBeGreaterThan(0.95);
});
