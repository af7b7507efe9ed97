import { setTimeout as sleep } from 'node:timers/promises';
import { pino } from 'pino';
import { beforeAll, expect, test, vi } from 'vitest';
import { plainTools } from '../../src/actions/plans/plainTools.js';
import { planJob } from '../../src/jobs/plans.js';
import { counted, newVitals } from '../../src/jobs/vitals.js';
import { startLongWork, startWorker } from '../../src/jobs/worker.js';
import { openPool } from '../../src/persistence/pool.js';
import { plannedHouse } from '../setup/plannedHouse.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse('2026-10-05T12:00:00Z');
}, 60_000);

test('questions that never end hold one place of their own: a night and a plan asked for after them are worked on', async () => {
  const begun: string[] = [];
  const told = (name: string) => async () => {
    begun.push(name);
  };
  let answer = () => {};
  const answered = new Promise<void>((resolve) => {
    answer = resolve;
  });
  let planned = () => {};
  const both = new Promise<void>((resolve) => {
    planned = resolve;
  });
  const worker = await startLongWork(
    t.pool,
    {
      work: {
        night: told('night'),
        plan: async () => {
          begun.push('plan');
          planned();
        },
      },
      questions: {
        what_if: async () => {
          begun.push('what_if');
          await answered;
        },
      },
    },
    pino({ level: 'silent' }),
  );
  for (const key of ['1', '2', '3']) await t.house.stores.jobs.add('what_if', {}, `what_if:${key}`);
  await t.house.stores.jobs.add('night', {}, 'night:1', 1);
  await t.house.stores.jobs.add('plan', {}, 'plan:1', 2);
  await both;
  expect(begun.filter((name) => name !== 'what_if').sort()).toEqual(['night', 'plan']);
  expect(begun.filter((name) => name === 'what_if').length).toBeLessThanOrEqual(1);
  answer();
  await worker.stop();
}, 60_000);

test('what a process is at work on is counted while it is', async () => {
  const vitals = newVitals();
  const seen: number[] = [];
  const jobs = counted(
    {
      night: async () => {
        seen.push(vitals.working['night'] ?? 0);
      },
      plan: () => Promise.reject(new Error('no')),
    },
    vitals,
  );
  expect(vitals.working).toEqual({ night: 0, plan: 0 });
  await jobs['night']?.({});
  await jobs['plan']?.({}).catch(() => undefined);
  expect([seen, vitals.working]).toEqual([[1], { night: 0, plan: 0 }]);
});

test('signs of life that could not be written down are counted', async () => {
  const house = await plannedHouse();
  await house.order();
  const asked = await house.call('dispatcher', { method: 'POST', url: '/v1/plans', payload: {} });
  await house.pool.query(
    `CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RAISE EXCEPTION ''no''; END';
     CREATE TRIGGER refuse BEFORE UPDATE ON plan FOR EACH ROW WHEN (NEW.progress < 1) EXECUTE FUNCTION refuse()`,
  );
  const vitals = newVitals();
  const tools = {
    ...plainTools,
    // As long as it takes to say once that it lives.
    search: async (...ask: Parameters<typeof plainTools.search>) => {
      while (vitals.beatsLost === 0) await sleep(50);
      return plainTools.search(...ask);
    },
  };
  const log = pino({ level: 'silent' });
  await planJob({ house: house.house, log, tools, vitals }, 20)({ planId: asked.body.id });
  expect(vitals.beatsLost).toBeGreaterThan(0);
  expect(await house.house.stores.rows.get('plan', asked.body.id)).toMatchObject({ state: 'proposed' });
}, 60_000);

const jobsLeft = async () =>
  (await t.pool.query('SELECT key, locked_at IS NOT NULL AS locked FROM graphile_worker.jobs ORDER BY key'))
    .rows;

test('told to stop, a job hands its work back and is gone; one that does not listen is released', async () => {
  await t.pool.query('DELETE FROM graphile_worker._private_jobs');
  let begin = () => {};
  const begun = new Promise<void>((resolve) => {
    begin = resolve;
  });
  let left = 2;
  const both = () => {
    left -= 1;
    if (left === 0) begin();
  };
  let release = () => {};
  const deaf = new Promise<void>((resolve) => {
    release = resolve;
  });
  const worker = await startWorker(
    t.pool,
    {
      plan: async (_payload, signal) => {
        both();
        await new Promise<void>((resolve) => {
          signal?.addEventListener('abort', () => resolve(), { once: true });
        });
      },
      night: async () => {
        both();
        await deaf;
      },
    },
    pino({ level: 'silent' }),
    2,
    1_000,
  );
  await t.house.stores.jobs.add('plan', {}, 'plan:listens');
  await t.house.stores.jobs.add('night', {}, 'night:deaf');
  await begun;
  await worker.stop();
  expect(await jobsLeft()).toEqual([{ key: 'night:deaf', locked: false }]);
  release();
}, 60_000);

test('of work that is handed back by a job of the same key nothing is left but that job, whether it listens or not', async () => {
  await t.pool.query('DELETE FROM graphile_worker._private_jobs');
  let begin = () => {};
  const begun = new Promise<void>((resolve) => {
    begin = resolve;
  });
  let letGo = () => {};
  const deaf = new Promise<void>((resolve) => {
    letGo = resolve;
  });
  const { jobs } = t.house.stores;
  const worker = await startWorker(
    t.pool,
    {
      what_if: async (_payload, signal) => {
        begin();
        await new Promise<void>((resolve) => {
          signal?.addEventListener('abort', () => resolve(), { once: true });
        });
        await jobs.add('what_if', {}, 'what_if:1');
        await deaf;
      },
    },
    pino({ level: 'silent' }),
    1,
    1_000,
  );
  await jobs.add('what_if', {}, 'what_if:1');
  await begun;
  await worker.stop();
  expect(await jobsLeft()).toEqual([{ key: 'what_if:1', locked: false }]);
  letGo();
}, 60_000);

test.each([
  ['silent', () => new Promise(() => undefined), /silent/],
  ['gone', () => Promise.reject(new Error('gone')), /were not released/],
])(
  'a database that is %s does not hold up the stop',
  async (_how, answer, said) => {
    const pool = openPool(t.url, { connections: 4 });
    const lines: string[] = [];
    const log = pino({ level: 'warn' }, { write: (line: string) => void lines.push(line) });
    const worker = await startWorker(pool, { plan: async () => undefined }, log);
    vi.spyOn(pool, 'query').mockImplementation(answer as never);
    await worker.stop();
    expect(lines.join('')).toMatch(said);
    await pool.end();
  },
  60_000,
);
