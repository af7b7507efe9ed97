import { pino } from 'pino';
import { beforeAll, expect, test } from 'vitest';
import { startLongWork, startWorker } from '../../src/jobs/worker.js';
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
