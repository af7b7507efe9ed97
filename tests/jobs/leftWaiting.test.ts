import { pino } from 'pino';
import { beforeEach, expect, test } from 'vitest';
import { askNight } from '../../src/actions/night/askNight.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { Stopped } from '../../src/actions/stopped.js';
import { AS_IT_IS } from '../../src/actions/whatIf/whatIfAsk.js';
import { Bell, nightJob, retryFailed, takeOverLapsed } from '../../src/jobs/night.js';
import { takeOverSilentWhatIfs, whatIfJob } from '../../src/jobs/whatIfs.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const log = pino({ level: 'silent' });
const TODAY = '2026-10-05';
let t: TestHouse;
beforeEach(async () => {
  // 03:00 in Chicago.
  t = await testHouse(`${TODAY}T08:00:00Z`);
}, 60_000);

const ask = (businessDay = TODAY) =>
  askNight(t.house, { name: 'test' }, { businessDay, askedBy: 'test', again: false });
const jobs = async () =>
  (await t.pool.query('SELECT key FROM graphile_worker.jobs WHERE key IS NOT NULL ORDER BY key')).rows.map(
    ({ key }) => key,
  );
const run = async (day = TODAY) =>
  (
    await t.pool.query(
      'SELECT state, failed_because, holder, times FROM nightly_run WHERE business_day = $1',
      [day],
    )
  ).rows[0];
const loseJobs = () => t.pool.query('DELETE FROM graphile_worker._private_jobs');
/** Rows stamp each change with the time: set back with their triggers asleep. */
async function setBack(table: string, minutes: number): Promise<void> {
  await t.pool.query(`ALTER TABLE ${table} DISABLE TRIGGER USER`);
  await t.pool.query(`UPDATE ${table} SET updated_at = now() - make_interval(mins => ${minutes})`);
  await t.pool.query(`ALTER TABLE ${table} ENABLE TRIGGER USER`);
}

test('a night that waits without a job, as after a restore, is taken up; one with a job is left to it', async () => {
  await ask();
  await setBack('nightly_run', 2);
  expect(await t.house.stores.night.lapsedRuns(TODAY)).toEqual([]);
  await loseJobs();
  expect(await t.house.stores.night.lapsedRuns(TODAY)).toHaveLength(1);
  // Its day is still to come for us.
  expect(await t.house.stores.night.lapsedRuns('2026-10-04')).toEqual([]);
  await takeOverLapsed({ house: t.house, log });
  expect(await jobs()).toEqual([`night:${TODAY}`]);
}, 60_000);

test('a night that waits and whose day is past ends, and says why', async () => {
  await ask('2026-10-04');
  await loseJobs();
  await ask();
  await t.pool.query(`UPDATE nightly_run SET state = 'done' WHERE business_day = '${TODAY}'`);
  await setBack('nightly_run', 2);
  await takeOverLapsed({ house: t.house, log });
  expect(await run('2026-10-04')).toMatchObject({
    state: 'failed',
    failed_because: expect.stringContaining('a later night'),
  });
}, 60_000);

test('a night that only waits does not count as had: the clock rings for it', async () => {
  await t.pool.query(
    `INSERT INTO nightly_run (id, business_day, asked_by, state) VALUES (gen_random_uuid(), '2026-10-04', 'test', 'done')`,
  );
  await ask();
  await loseJobs();
  expect(await t.house.stores.night.lastDay()).toBe('2026-10-04');
  await new Bell('02:00', { house: t.house, log }).look();
  expect(await jobs()).toEqual([`night:${TODAY}`]);
}, 60_000);

test('a night that failed is tried again after ten minutes and until the crews leave, and told once', async () => {
  await ask();
  await t.pool.query(
    `CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RAISE EXCEPTION ''the disk is gone''; END'`,
  );
  await t.pool.query(
    `CREATE TRIGGER refuse BEFORE UPDATE ON nightly_step FOR EACH ROW WHEN (NEW.state = 'done') EXECUTE FUNCTION refuse()`,
  );
  const job = nightJob({ house: t.house, log }, { ROUTE_SECONDS: 1 });
  const work = () => job({ businessDay: TODAY, askedBy: 'test' });
  const told = async () =>
    (await t.pool.query("SELECT count(*)::int AS n FROM event WHERE kind = 'night_failed'")).rows[0].n;
  await work(); // the queue does not see it fail: seconds later it would again
  await loseJobs();
  expect(await run()).toMatchObject({
    state: 'failed',
    failed_because: expect.stringContaining('the disk is gone'),
  });
  const night = { house: t.house, log };
  await retryFailed(night);
  expect(await jobs()).toEqual([]);
  await setBack('nightly_run', 11);
  await retryFailed(night);
  expect(await jobs()).toEqual([`night:${TODAY}`]);
  await work();
  expect(await told()).toBe(1);

  // 7 in the morning: crews go with what they have.
  await loseJobs();
  await setBack('nightly_run', 11);
  t.clock.at = new Date(`${TODAY}T12:00:00Z`);
  await retryFailed(night);
  expect(await jobs()).toEqual([]);
  t.clock.at = new Date(`${TODAY}T11:59:00Z`);
  await t.pool.query('DROP TRIGGER refuse ON nightly_step');
  await retryFailed(night);
  await work();
  expect(await run()).toMatchObject({ state: 'done', times: 1 });
}, 120_000);

test('a process told to end hands the night back at once, with nothing of its step, and another goes on', async () => {
  const stopping = new AbortController();
  const halted = runNight(t.house, {
    businessDay: TODAY,
    askedBy: 'test',
    holder: 'ends',
    routeSeconds: 1,
    routeIterations: 10,
    signal: stopping.signal,
    onProgress: (step) => {
      if (step === 'date') stopping.abort();
    },
  });
  await expect(halted).rejects.toBeInstanceOf(Stopped);
  expect(await run()).toMatchObject({ state: 'running', holder: null });
  expect(await jobs()).toEqual([`night:${TODAY}`]);
  await t.work();
  expect(await run()).toMatchObject({ state: 'done' });
}, 120_000);

test('a question that waits without a job is asked again, and one told to end waits for another', async () => {
  const id = '0196f0a0-0000-7000-8000-000000000009';
  const key = `what_if:${id}`;
  await t.pool.query(
    `INSERT INTO what_if (id, asked, seed, runs, weeks, asked_by) VALUES ($1, '{}', 1, 1, 1, 'test')`,
    [id],
  );
  await setBack('what_if', 3);
  await takeOverSilentWhatIfs({ house: t.house, log });
  expect(await jobs()).toEqual([key]);
  await t.pool.query(`UPDATE graphile_worker._private_jobs SET run_at = now() + interval '1 hour'`);
  await takeOverSilentWhatIfs({ house: t.house, log }); // it has one now, and is left to it
  const { rows } = await t.pool.query('SELECT run_at > now() AS later FROM graphile_worker.jobs');
  expect(rows).toEqual([{ later: true }]);
}, 60_000);

test('a process told to end leaves its question to whoever is free', async () => {
  await ask();
  await t.work();
  const id = '0196f0a0-0000-7000-8000-000000000009';
  await t.pool.query(
    `INSERT INTO what_if (id, asked, seed, runs, weeks, asked_by) VALUES ($1, $2, 1, 1, 1, 'test')`,
    [id, JSON.stringify(AS_IT_IS)],
  );
  const ended = new AbortController();
  ended.abort();
  await whatIfJob({ house: t.house, log })({ whatIfId: id }, ended.signal);
  const { rows } = await t.pool.query('SELECT state, failed_because FROM what_if');
  expect(rows).toEqual([{ state: 'waiting', failed_because: null }]);
  expect(await jobs()).toEqual([`what_if:${id}`]);
}, 120_000);
