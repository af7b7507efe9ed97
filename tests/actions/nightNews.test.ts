import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { lineFacts, nightLine } from '../../src/actions/night/lineEvidence.js';
import { withPriors } from '../../src/actions/night/lineState.js';
import { eventsFromRows, eventsOf } from '../../src/actions/night/nightEvents.js';
import { addDays, dayNumber } from '../../src/domain/calendar/isoDate.js';
import { ENGINE_VERSION } from '../../src/domain/fouling/evidence.js';
import { fitBase } from '../../src/domain/fouling/fitBase.js';
import { settingsWith } from '../../src/domain/work/settings.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const MONDAY = '2026-10-05';
const LINES = 80;

const estimateOn = (day: string) =>
  t.house.transact({ name: 'night' }, (stores) => estimate(t.house, stores, day, () => undefined));
const dateOn = (day: string, settings = settingsWith({})) =>
  t.house.transact({ name: 'night' }, (stores) => date(t.house, stores, day, settings, () => undefined));

beforeAll(async () => {
  t = await testHouse('2026-10-05T08:00:00Z');
  await fillLargeBase(t.pool, { lines: LINES, readingsPerLine: 5, asOfDay: dayNumber(MONDAY), seed: 7 });
  await estimateOn(MONDAY);
  await dateOn(MONDAY);
});

/** The first line of the n-th site, with all its columns. */
async function lineOf(site: number): Promise<{ id: string; site_id: string }> {
  const { rows } = await t.pool.query(
    'SELECT DISTINCT ON (site_id) id, site_id FROM line ORDER BY site_id, id',
  );
  return rows[site];
}

async function readOn(lineId: string, day: string): Promise<void> {
  await t.pool.query(
    `INSERT INTO inspection (id, line_id, observed_at, received_at, author, phase, method, raw, conversion_version, occlusion, standard_error, bound)
     VALUES (gen_random_uuid(), $1, $2, $2, 'test', 'no_cleaning', 'camera', '{"share": 0.6}', 1, 0.6, 0.08, 'exact')`,
    [lineId, `${day}T15:00:00Z`],
  );
}

const datedOn = async (day: string): Promise<string[]> =>
  (await t.pool.query('SELECT line_id FROM trend WHERE as_of = $1 ORDER BY line_id', [day])).rows.map(
    ({ line_id }) => line_id,
  );

const linesOfSite = async (siteId: string): Promise<string[]> =>
  (await t.pool.query('SELECT id FROM line WHERE site_id = $1 ORDER BY id', [siteId])).rows.map(
    ({ id }) => id,
  );

test('the first night reads every line, pools as one fit of the whole base does, and dates them all', async () => {
  const { rows: facts } = await t.pool.query(
    `SELECT l.*, l.main_material AS material, l.main_bore_mm AS bore_mm, l.ferrous_iron_mg_l AS iron_mg_l, s.area, s.basement,
            e.id AS epoch_id, e.started_on, e.begins, NULL AS discharge_of
       FROM line l JOIN site s ON s.id = l.site_id JOIN epoch e ON e.line_id = l.id ORDER BY l.id`,
  );
  const { rows: events } = await t.pool.query(
    `SELECT line_id, 'reading' AS kind, id, observed_at AS at, occlusion, standard_error, bound, method, phase, plug_cause, deposit, 0 AS turn FROM inspection
     UNION ALL SELECT line_id, 'clean', id, cleaned_at, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 1 FROM clean ORDER BY at, turn`,
  );
  const evidence = facts.map(
    (row) =>
      nightLine(
        lineFacts(row),
        eventsFromRows(
          events.filter(({ line_id }) => line_id === row.id),
          t.house.zone,
        ),
        MONDAY,
      ).evidence,
  );
  const whole = fitBase(evidence, dayNumber(MONDAY));
  const stored = await t.house.stores.night.lastFit(whole.engineVersion, MONDAY);
  const states = await t.house.stores.night.lineStates();
  expect(stored?.parameters.shapes.map(({ k1, k2 }) => [k1, k2])).toEqual(
    whole.shapes.map(({ k1, k2 }) => [k1, k2]),
  );
  const withLines = withPriors(
    stored?.parameters ?? whole,
    [...states].map(([lineId, state]) => ({ lineId, state })),
  );
  whole.shapes.forEach((shape, law) => {
    const own = withLines.shapes[law];
    expect(own?.siteVariance).toBeCloseTo(shape.siteVariance, 6);
    for (const [lineId, [mean, variance]] of Object.entries(shape.lines)) {
      expect(own?.lines[lineId]?.[0]).toBeCloseTo(mean, 6);
      expect(own?.lines[lineId]?.[1]).toBeCloseTo(variance, 6);
    }
  });
  expect(await datedOn(MONDAY)).toHaveLength(LINES);
});

test('without news a night changes nothing', async () => {
  const tuesday = addDays(MONDAY, 1);
  expect(await estimateOn(tuesday)).toMatchObject({ fresh: 0, lines: LINES });
  expect(await dateOn(tuesday)).toMatchObject({ worked: 0 });
  expect(await datedOn(MONDAY)).toHaveLength(LINES);
});

test('one reading is news of its line; the lines of its site are dated anew, the others stand', async () => {
  const wednesday = addDays(MONDAY, 2);
  const line = await lineOf(3);
  await readOn(line.id, addDays(MONDAY, 1));
  expect(await estimateOn(wednesday)).toMatchObject({ fresh: 1 });
  expect((await dateOn(wednesday)).worked).toBe(4);
  expect(await datedOn(wednesday)).toEqual(await linesOfSite(line.site_id));
  const { rows } = await t.pool.query('SELECT because FROM trend_history WHERE as_of = $1 AND line_id = $2', [
    wednesday,
    line.id,
  ]);
  expect(rows).toEqual([{ because: 'evidence' }]);
});

test('a reading withdrawn is news too, and a night killed between its steps is finished by the next', async () => {
  const thursday = addDays(MONDAY, 3);
  const line = await lineOf(3);
  await t.pool.query(
    `UPDATE inspection SET withdrawn_at = now(), withdrawn_because = 'wrong line' WHERE line_id = $1 AND author = 'test'`,
    [line.id],
  );
  expect(await estimateOn(thursday)).toMatchObject({ fresh: 1 });
  // Another night begins before the dates were set: they are set by it.
  expect(await estimateOn(addDays(thursday, 1))).toMatchObject({ fresh: 0 });
  await dateOn(addDays(thursday, 1));
  expect(await datedOn(addDays(thursday, 1))).toEqual(await linesOfSite(line.site_id));
});

test('new care terms date the lines of their site, a changed setting dates all', async () => {
  const friday = addDays(MONDAY, 4);
  const line = await lineOf(5);
  await t.house.stores.rows.insert('care_terms', {
    id: '018f0000-0000-7000-8000-000000000002',
    site_id: line.site_id,
    interval_days: 20,
    from_day: '2026-01-01',
    line_ids: [],
  });
  // Of a day before the first night: they set the visits of its four lines, which tell less of how fast they foul.
  expect(await estimateOn(friday)).toMatchObject({ fresh: 4 });
  expect((await dateOn(friday)).worked).toBe(4);
  const settings = settingsWith({ limits: { ...settingsWith({}).limits, plug: 0.85 } });
  expect((await dateOn(friday, settings)).worked).toBe(LINES);
  expect((await dateOn(friday, settings)).worked).toBe(0);
});

test('a Monday without a night is made up by the next night, once: the shape is searched and every line read anew', async () => {
  const wednesday = '2026-10-28';
  expect(await estimateOn(wednesday)).toMatchObject({ fresh: LINES, weekly: 1 });
  expect(await t.house.stores.night.lastWeeklyFit(ENGINE_VERSION, '2026-10-31')).toBe(wednesday);
  expect(await t.house.stores.night.lastWeeklyFit(ENGINE_VERSION, '2026-10-27')).toBe(MONDAY);
  expect(await t.house.stores.night.lastWeeklyFit('none', wednesday)).toBeNull();
  expect(await estimateOn(wednesday)).toMatchObject({ fresh: 0, weekly: 0 });
  expect(await estimateOn(addDays(wednesday, 1))).toMatchObject({ fresh: 0, weekly: 0 });
});

test('on the first night of a month every line is read anew and kept for good', async () => {
  const first = '2026-11-01';
  expect(await estimateOn(first)).toMatchObject({ fresh: LINES, weekly: 0 });
  expect((await dateOn(first)).history).toBe(LINES);
});

test('a verdict on a doubted reading is news: confirmed it counts in full, dismissed no more', async () => {
  const line = await lineOf(7);
  const { rows } = await t.pool.query(
    `SELECT id FROM inspection WHERE line_id = $1 AND occlusion IS NOT NULL ORDER BY observed_at LIMIT 1`,
    [line.id],
  );
  await t.pool.query(
    `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion) VALUES ($1, $2, 0.1, 'test')`,
    [rows[0].id, line.id],
  );
  const readingsOn = async (day: string) => {
    const before = t.house.zone.instantOf(day, 0).toISOString();
    const events = eventsOf(await t.house.stores.night.eventsOf([line.id], before, t.house.zone), 0);
    return events.filter(({ id }) => id === rows[0].id).map(({ confirmed }) => confirmed);
  };
  const judge = (verdict: string) =>
    t.pool.query('UPDATE reading_review SET verdict = $2 WHERE inspection_id = $1', [rows[0].id, verdict]);
  const saturday = addDays(MONDAY, 5);
  expect(await readingsOn(saturday)).toEqual([false]);
  await judge('confirmed');
  expect(await readingsOn(saturday)).toEqual([true]);
  expect(await estimateOn(saturday)).toMatchObject({ fresh: 1 });
  await judge('dismissed');
  expect(await readingsOn(saturday)).toEqual([]);
  expect(await estimateOn(addDays(saturday, 1))).toMatchObject({ fresh: 1 });
});

test('visits since the first night go by its dates: their intervals tell nothing of the rate', async () => {
  const before = t.house.zone.instantOf(MONDAY, 0).toISOString();
  await t.pool.query('DELETE FROM care_terms');
  const ruledFrom = async () =>
    new Set((await t.house.stores.night.bookedLines(MONDAY, before)).map(({ facts }) => facts.ruledFrom));
  expect(await ruledFrom()).toEqual(new Set([null]));
  await t.pool.query(
    `INSERT INTO nightly_run (id, business_day, state, asked_by) VALUES (gen_random_uuid(), '2026-05-04', 'done', 'test'), (gen_random_uuid(), '2026-05-05', 'done', 'test')`,
  );
  expect(await ruledFrom()).toEqual(new Set(['2026-05-04']));
  const [booked] = await t.house.stores.night.bookedLines(MONDAY, before);
  const line = nightLine(booked!.facts, [], MONDAY);
  expect(line.evidence.ruledFromDay).toBe(dayNumber('2026-05-04'));
  const told = await t.house.stores.answers.line(booked!.facts.lineId, before);
  expect(lineFacts(told!.line).ruledFrom).toBe('2026-05-04');
});

test('a reading of a visit that a call brought about is marked so, for the night and for the picture of its line', async () => {
  const line = await lineOf(9);
  const before = t.house.zone.instantOf(MONDAY, 0).toISOString();
  const marked = async () =>
    eventsOf(await t.house.stores.night.eventsOf([line.id], before, t.house.zone), 0)
      .filter(({ called }) => called)
      .map(({ id }) => id);
  expect(await marked()).toEqual([]);
  const { rows } = await t.pool.query(
    `INSERT INTO work_order (id, site_id, cause, minutes)
     SELECT gen_random_uuid(), $1, cause, 60 FROM unnest(ARRAY['call', 'due']) cause RETURNING id, cause`,
    [line.site_id],
  );
  const { rows: readings } = await t.pool.query(
    'SELECT id FROM inspection WHERE line_id = $1 ORDER BY observed_at LIMIT 2',
    [line.id],
  );
  const orderOf = (cause: string) => rows.find((order: { cause: string }) => order.cause === cause).id;
  for (const [i, cause] of ['call', 'due'].entries())
    await t.pool.query('UPDATE inspection SET work_order_id = $2 WHERE id = $1', [
      readings[i].id,
      orderOf(cause),
    ]);
  expect(await marked()).toEqual([readings[0].id]);
  const told = await t.house.stores.answers.line(line.id, before);
  expect(told!.events.filter(({ called }) => called === true).map(({ id }) => id)).toEqual([readings[0].id]);
});

test('work of an evening, already the next day in UTC, is believed the same night', async () => {
  const line = await lineOf(11);
  const used = async () =>
    (await t.pool.query('SELECT readings_used, last_evidence_at FROM trend WHERE line_id = $1', [line.id]))
      .rows[0];
  await estimateOn('2026-11-03');
  await dateOn('2026-11-03');
  const before = await used();
  await t.pool.query(
    `INSERT INTO inspection (id, line_id, observed_at, received_at, author, phase, method, raw, conversion_version, occlusion, standard_error, bound)
     VALUES (gen_random_uuid(), $1, '2026-11-04T03:00:00Z', now(), 'test', 'no_cleaning', 'camera', '{"share": 0.3}', 1, 0.3, 0.08, 'exact')`,
    [line.id],
  ); // 21:00 on 3 November in the business's zone
  await estimateOn('2026-11-04');
  await dateOn('2026-11-04');
  const after = await used();
  expect(after.readings_used).toBe(before.readings_used + 1);
  expect(new Date(after.last_evidence_at).toISOString()).toBe('2026-11-04T03:00:00.000Z');
});
