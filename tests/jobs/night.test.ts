import { pino } from 'pino';
import { beforeAll, expect, test } from 'vitest';
import { askNight } from '../../src/actions/night/askNight.js';
import { LeaseLost, runNight } from '../../src/actions/night/runNight.js';
import { nightJob, takeOverLapsed } from '../../src/jobs/night.js';
import { startWorker } from '../../src/jobs/worker.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const log = pino({ level: 'silent' });
beforeAll(async () => {
  t = await testHouse('2026-10-05T12:00:00Z');
});

const ask = (businessDay: string, again = false) =>
  askNight(t.house, { name: 'test' }, { businessDay, askedBy: 'test', again });
const waiting = async () =>
  (await t.pool.query('SELECT key FROM graphile_worker.jobs ORDER BY key')).rows.map((row) => row['key']);
const states = async () =>
  (await t.pool.query('SELECT business_day, state FROM nightly_run ORDER BY business_day')).rows.map(
    (row) => `${row['business_day']} ${row['state']}`,
  );
async function until(isSo: () => Promise<boolean>): Promise<void> {
  const end = Date.now() + 20_000;
  while (!(await isSo())) {
    if (Date.now() > end) throw new Error('it did not come about');
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

test('asked twice, one run and one job; a worker that listens does it', async () => {
  const first = await ask('2026-10-01');
  expect(await ask('2026-10-01')).toEqual(first);
  expect(await waiting()).toEqual(['night:2026-10-01']);
  const worker = await startWorker(
    t.pool,
    { night: nightJob({ house: t.house, log }, { ROUTE_SECONDS: 1 }) },
    log,
  );
  await until(async () => (await states()).includes('2026-10-01 done'));
  // and one that comes while it listens
  await ask('2026-10-02');
  await until(async () => (await states()).includes('2026-10-02 done'));
  await worker.stop();
  expect(await waiting()).toEqual([]);
});

test('a day that is done is left alone unless asked for again', async () => {
  await ask('2026-10-02');
  expect(await waiting()).toEqual([]);
  await ask('2026-10-02', true);
  expect(await waiting()).toEqual(['night:2026-10-02']);
  await t.work();
});

test('a day to come is refused, and one before the last night that is done', async () => {
  await expect(ask('2026-10-06')).rejects.toMatchObject({ problem: { rule: 'business-day' } });
  await expect(ask('2026-09-30')).rejects.toMatchObject({ problem: { rule: 'business-day' } });
});

test('a request that fails leaves neither run nor job', async () => {
  const before = await states();
  await expect(
    t.house.transact({ name: 'test' }, async (stores) => {
      await stores.jobs.add('night', { businessDay: '2026-10-09' }, 'night:2026-10-09');
      throw new Error('no');
    }),
  ).rejects.toThrow('no');
  expect(await states()).toEqual(before);
  expect(await waiting()).toEqual([]);
});

test('a run whose worker was killed goes to the jobs again once its lease has lapsed, though the old job is locked', async () => {
  await ask('2026-10-03');
  await t.pool.query(
    `UPDATE nightly_run SET state = 'running', holder = 'gone', lease_until = now() + interval '1 hour' WHERE business_day = '2026-10-03'`,
  );
  await t.pool.query(
    `UPDATE graphile_worker._private_jobs SET locked_at = now(), locked_by = 'gone' WHERE key = 'night:2026-10-03'`,
  );
  await takeOverLapsed({ house: t.house, log });
  await t.work();
  expect(await states()).toContain('2026-10-03 running');
  await t.pool.query(
    `UPDATE nightly_run SET lease_until = now() - interval '1 second' WHERE state = 'running'`,
  );
  await takeOverLapsed({ house: t.house, log });
  await t.work();
  expect(await states()).toContain('2026-10-03 done');
});

test('a worker so slow that its run was taken over keeps nothing of its step', async () => {
  await ask('2026-10-04');
  let stolen = false;
  const slow = runNight(t.house, {
    businessDay: '2026-10-04',
    askedBy: 'slow',
    holder: 'slow',
    routeSeconds: 1,
    routeIterations: 10,
    onProgress: (step) => {
      if (step !== 'date' || stolen) return;
      stolen = true;
      // as a taker after a lapsed lease leaves it
      stealing = t.pool.query(`UPDATE nightly_run SET holder = 'taker' WHERE business_day = '2026-10-04'`);
    },
  });
  let stealing: Promise<unknown> = Promise.resolve();
  await expect(slow).rejects.toBeInstanceOf(LeaseLost);
  await stealing;
  const { rows } = await t.pool.query(
    `SELECT s.name, s.state, r.state AS run, r.holder FROM nightly_step s JOIN nightly_run r ON r.id = s.run_id WHERE r.business_day = '2026-10-04' ORDER BY position`,
  );
  expect(rows.filter((row) => row['state'] === 'done').map((row) => row['name'])).not.toContain('order');
  expect(rows[0]).toMatchObject({ run: 'running', holder: 'taker' });
});
