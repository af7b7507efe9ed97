import { beforeAll, expect, test } from 'vitest';
import { date, estimate } from '../../src/actions/night/estimateAndDate.js';
import { blockByBlock, type LineWork, ownThread } from '../../src/actions/night/lineWork.js';
import { dayNumber } from '../../src/domain/calendar/isoDate.js';
import { settingsWith } from '../../src/domain/work/settings.js';
import { lineThreads } from '../../src/jobs/lineThreads.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { compiledService } from '../setup/compiled.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const MONDAY = '2026-10-05';
const TUESDAY = '2026-10-06';
let compiled: (file: string) => URL;
let t: TestHouse;

beforeAll(async () => {
  compiled = compiledService();
  t = await testHouse('2026-10-05T08:00:00Z');
  // The weekly search is done once, on few lines; the night under test reads many more under its shapes.
  await fillLargeBase(t.pool, { lines: 60, readingsPerLine: 4, asOfDay: dayNumber(MONDAY), seed: 3 });
  await t.house.transact({ name: 'night' }, (stores) => estimate(t.house, stores, MONDAY, () => undefined));
  await fillLargeBase(t.pool, { lines: 560, readingsPerLine: 4, asOfDay: dayNumber(MONDAY), seed: 4 });
}, 300_000);
const threads = (count: number) => lineThreads(compiled('jobs/lineThread.js'), count);

/** The night's two steps, every line read anew; what they left, without ids of fits and times of writing. */
async function nightWith(lineWork: () => LineWork) {
  await t.pool.query('TRUNCATE trend, trend_history, line_state, reading_review');
  await t.pool.query('DELETE FROM fit WHERE as_of = $1', [TUESDAY]);
  const house = { ...t.house, lineWork };
  await house.transact({ name: 'night' }, (stores) => estimate(house, stores, TUESDAY, () => undefined));
  await house.transact({ name: 'night' }, (stores) =>
    date(house, stores, TUESDAY, settingsWith({}), () => undefined),
  );
  const trends = await t.pool.query(
    `SELECT to_jsonb(t) - 'fit_id' - 'updated_at' AS trend FROM trend t ORDER BY line_id`,
  );
  const states = await t.pool.query(
    `SELECT line_id, encode(state, 'hex') AS state FROM line_state ORDER BY line_id`,
  );
  return { trends: trends.rows, states: states.rows };
}

test('dates and beliefs are the same to the last bit on the own thread, one thread and two', async () => {
  const own = await nightWith(ownThread);
  expect(own.trends).toHaveLength(620);
  expect(await nightWith(() => threads(1))).toEqual(own);
  expect(await nightWith(() => threads(2))).toEqual(own);
}, 240_000);

test('a question that fails is told, and the thread goes on', async () => {
  const work = threads(1);
  try {
    const noRound = {
      layout: { lines: 0, sites: 0 },
      looks: {},
      fresh: new Int32Array(),
      blocks: [],
      linesPerBlock: 1,
      start: {},
      rounds: 0,
    };
    await expect(work.run('pool', noRound as never)).rejects.toThrow('No round of pooling');
    await expect(work.run('pool', noRound as never)).rejects.toThrow('No round of pooling');
  } finally {
    await work.close();
  }
});

test('a thread that cannot start fails the question instead of leaving it waiting', async () => {
  const work = lineThreads(compiled('jobs/nowhere.js'), 1);
  await expect(work.run('pool', {} as never)).rejects.toThrow();
  await expect(work.run('pool', {} as never)).rejects.toThrow();
  await work.close();
});

test('blocks are answered in their order, however long each takes', async () => {
  const taken: number[] = [];
  const started: number[] = [];
  await blockByBlock(
    [30, 1, 10, 2],
    2,
    async (ms) => {
      started.push(ms);
      return { answer: new Promise<number>((resolve) => setTimeout(() => resolve(ms), ms)) };
    },
    (ms) => {
      taken.push(ms);
    },
  );
  expect(taken).toEqual([30, 1, 10, 2]);
  expect(started).toEqual([30, 1, 10, 2]);
});
