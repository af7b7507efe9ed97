import { pino } from 'pino';
import { beforeAll, expect, test } from 'vitest';
import { startLongWork } from '../../src/jobs/worker.js';
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
