import sharp from 'sharp';
import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { keepDemoForecasts } from '../../src/commands/demoForecasts.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { Chance } from '../../src/demo/demoChance.js';
import { demoPicture } from '../../src/demo/demoPicture.js';
import { FORECAST_DAYS_AGO } from '../../src/demo/demoPlugs.js';
import { moveIn } from '../../src/demo/moveIn.js';
import { takePhotographs } from '../../src/demo/takePhotographs.js';
import { addDays } from '../../src/domain/calendar/isoDate.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const TODAY = '2026-10-01';
const demo = demoBusiness(1, TODAY);
let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
  await importClientBase(t.house, { name: 'test' }, { base: demo.base, source: 'demo', asOf: TODAY });
  await moveIn(t.house, demo);
  await keepDemoForecasts(t.house, demo.base, addDays(TODAY, -FORECAST_DAYS_AGO));
}, 240_000);

type Answer = Record<string, unknown> & { items: Record<string, unknown>[] };
const ask = async (url: string): Promise<Answer> => {
  const answer = await t.call('owner', { method: 'GET', url });
  expect(answer.status, answer.text).toBe(200);
  return JSON.parse(answer.text) as Answer;
};
const PERIOD = 'fromDay=2026-05-01&toDay=2026-09-30';

test('done work has an order a visit, with its price and what it returned for', async () => {
  const { items } = await ask(`/v1/reports/done-work?${PERIOD}`);
  expect(items).toHaveLength(demo.visits.length);
  const returned = items.filter(({ returnsFor }) => returnsFor !== null);
  expect(returned.length).toBe(demo.visits.filter(({ returnsFor }) => returnsFor !== null).length);
  expect(items.some(({ billed }) => billed === false)).toBe(true);
});

test('return work falls to the crews that had been there', async () => {
  const { items } = await ask(`/v1/reports/return-work?${PERIOD}`);
  expect(items.reduce((sum, { returns }) => sum + Number(returns), 0)).toBeGreaterThan(1);
});

test('one plug was due by the forecast kept before, one was not foreseen', async () => {
  const { counts } = await ask(`/v1/reports/plugs-found?${PERIOD}`);
  expect(counts).toMatchObject({ due: expect.any(Number), not_foreseen: expect.any(Number) });
  const { due, likely, not_foreseen: not } = counts as Record<string, number>;
  expect((due ?? 0) + (likely ?? 0)).toBeGreaterThan(0);
  expect(not).toBeGreaterThan(0);
});

test('a visit prints as a report, and its water stands in the log', async () => {
  const { items } = await ask(`/v1/reports/done-work?${PERIOD}`);
  const flushed = items.find(({ tasks }) => String(tasks).includes('test_pump'));
  const report = await t.call('owner', {
    method: 'GET',
    url: `/v1/work-orders/${flushed?.['workOrderId']}/report`,
  });
  expect(report.status).toBe(200);
  expect(report.text).toContain('before');
  const log = await t.call('owner', {
    method: 'GET',
    url: `/v1/discharge-log?from=2026-05-01&to=2026-09-30`,
  });
  expect(log.status).toBe(200);
  const recorded = await t.house.stores.rows.count('water_record', []);
  expect(recorded).toBe(demo.visits.filter(({ water }) => water !== null).length);
  expect((log.text.match(/<tr/g) ?? []).length).toBeGreaterThan(recorded);
});

test('a promised visit was kept, and none of them waits', async () => {
  const promises = await t.house.stores.rows.all('promise', []);
  expect(promises.filter((row) => row['ended_at'] === null).length).toBeGreaterThan(0);
  const open = await t.house.stores.rows.all('work_order_task', [{ column: 'open', is: '=', value: true }]);
  expect(open.map((task) => task['kind'])).toEqual(['dig_and_replace']);
});

test('the newest visits that were read before and after have a picture of both, marked as drawn, for the client', async () => {
  const order = await takePhotographs(t.house, 1);
  const shown = await t.house.stores.rows.all('attachment', [], 'taken_at');
  expect(shown).toHaveLength(10);
  expect(new Set(shown.map((row) => row['caption']))).toEqual(new Set(['Demo picture']));
  const report = await t.call('owner', { method: 'GET', url: `/v1/work-orders/${order?.['id']}/report` });
  expect(report.status, report.text).toBe(200);
  expect(report.text.match(/src="data:image\/jpeg;base64,/g)).toHaveLength(2);
  const captions = [...report.text.matchAll(/<figcaption>(.*?)<\/figcaption>/g)].map(
    ([, words]) => words ?? '',
  );
  expect(captions[0]).toMatch(/Demo picture.*before a clean/);
  expect(captions[1]).toMatch(/Demo picture.*after a clean/);
}, 60_000);

test('a line that is half full is drawn with less free bore than a clean one', async () => {
  const free = async (share: number): Promise<number> => {
    const svg = demoPicture(share, new Chance(1));
    const { data } = await sharp(Buffer.from(svg)).greyscale().raw().toBuffer({ resolveWithObject: true });
    return data.filter((grey) => grey < 45).length;
  };
  expect(await free(0.5)).toBeLessThan(0.7 * (await free(0.05)));
});
