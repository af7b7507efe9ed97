import { pino } from 'pino';
import { expect, test } from 'vitest';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { Bell } from '../../src/jobs/night.js';
import { makeHouse } from '../../src/persistence/house.js';
import { testDatabase } from '../setup/testDatabase.js';

const log = pino({ level: 'silent' });

/** A bell of a fresh house at a clock that is set by hand, and the days it has rung for. */
async function bellAt(time: string, zone = 'America/Chicago') {
  const { pool } = await testDatabase();
  const clock = { at: new Date(0) };
  const house = makeHouse(pool, {
    clock: { now: () => clock.at },
    zone: businessZone(zone),
    units: 'metric',
    currency: 'USD',
    version: 'test',
  });
  const rung = async () =>
    (await pool.query('SELECT business_day, asked_by FROM nightly_run ORDER BY business_day')).rows.map(
      (row) => `${row['business_day']} ${row['asked_by']}`,
    );
  const newBell = () => new Bell(time, { house, log });
  let bell = newBell();
  return {
    pool,
    rung,
    restart: () => {
      bell = newBell();
    },
    others: (n: number) => Array.from({ length: n }, newBell),
    /** What has rung once the clock shows this instant. */
    async at(instant: string) {
      clock.at = new Date(instant);
      await bell.look();
      return rung();
    },
  };
}

test('the night in which 02:00 to 03:00 is skipped: the bell rings at 03:00, the first moment after', async () => {
  const b = await bellAt('02:30');
  // Chicago, 8 March 2026: 01:59:59 CST is 07:59:59Z, the next second is 03:00 CDT.
  expect(await b.at('2026-03-08T07:59:59Z')).toEqual([]);
  expect(await b.at('2026-03-08T08:00:00Z')).toEqual(['2026-03-08 clock']);
  expect(await b.at('2026-03-08T09:30:00Z')).toEqual(['2026-03-08 clock']);
}, 60_000);

test('the night in which 01:00 to 02:00 comes twice: the bell rings the first time, once', async () => {
  const b = await bellAt('01:30');
  // Chicago, 1 November 2026: 01:30 CDT is 06:30Z, 01:30 CST is 07:30Z.
  expect(await b.at('2026-11-01T06:29:59Z')).toEqual([]);
  expect(await b.at('2026-11-01T06:30:00Z')).toEqual(['2026-11-01 clock']);
  b.restart();
  expect(await b.at('2026-11-01T07:30:00Z')).toEqual(['2026-11-01 clock']);
}, 60_000);

test('nights missed while the service was down: today’s is asked for as soon as it is back', async () => {
  const b = await bellAt('02:00');
  expect(await b.at('2026-10-01T06:59:00Z')).toEqual([]);
  expect(await b.at('2026-10-01T07:00:00Z')).toEqual(['2026-10-01 clock']);
  await b.pool.query(`UPDATE nightly_run SET state = 'done'`);
  b.restart();
  expect(await b.at('2026-10-05T15:00:00Z')).toEqual(['2026-10-01 clock', '2026-10-05 catch-up']);
}, 60_000);

test('a house without a past waits for its first night', async () => {
  const b = await bellAt('02:00');
  expect(await b.at('2026-10-01T15:00:00Z')).toEqual([]);
  expect(await b.at('2026-10-02T07:00:00Z')).toEqual(['2026-10-02 clock']);
}, 60_000);

test('while yesterday’s night is still worked on, today’s is asked for again and again', async () => {
  const b = await bellAt('02:00');
  await b.at('2026-10-01T06:00:00Z');
  await b.at('2026-10-01T07:00:00Z');
  await b.pool.query(`UPDATE nightly_run SET state = 'running', lease_until = now() + interval '1 hour'`);
  expect(await b.at('2026-10-02T07:00:00Z')).toEqual(['2026-10-01 clock']);
  await b.pool.query(`UPDATE nightly_run SET state = 'done', lease_until = NULL`);
  expect(await b.at('2026-10-02T07:00:10Z')).toContainEqual(expect.stringMatching(/^2026-10-02 /));
}, 60_000);

test('four bells at once: one run a night, one job', async () => {
  const b = await bellAt('02:00');
  await b.at('2026-10-01T06:00:00Z');
  const bells = b.others(4);
  for (const bell of bells) await bell.look();
  // The clock stands before two for all; then it is two.
  await b.at('2026-10-01T06:59:59Z');
  const at = new Date('2026-10-01T07:00:00Z');
  await Promise.all([b.at(at.toISOString()), ...bells.map((bell) => bell.look())]);
  expect(await b.rung()).toEqual(['2026-10-01 clock']);
  const { rows } = await b.pool.query(`SELECT key FROM graphile_worker.jobs WHERE key LIKE 'night:%'`);
  expect(rows).toEqual([{ key: 'night:2026-10-01' }]);
}, 60_000);
