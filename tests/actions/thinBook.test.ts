import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const DAY = '2026-10-01';
const SITES =
  'client,address,last_cleaned\nReed,1 Marsh Gate,2026-09-26\nSedge,2 Marsh Gate,2024-05-01\nRush,3 Marsh Gate,\n';
const CREWS =
  'crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays\n' +
  'C1,Heron,North yard,44.8,-90.2,hose;jetter;camera,07:30,16:00,mon;tue;wed;thu;fri\n';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse('2026-10-01T07:00:00Z');
  const read = await readClientBase(
    { sites: csvFromText('sites.csv', SITES), crews: csvFromText('crews.csv', CREWS) },
    DAY,
  );
  if ('faults' in read) throw new Error(JSON.stringify(read.faults));
  await importClientBase(t.house, { name: 'test' }, { base: read.base, source: 'book', asOf: DAY });
  await runNight(t.house, {
    businessDay: DAY,
    askedBy: 'test',
    holder: 'test',
    routeSeconds: 1,
    routeIterations: 100,
  });
});

const trends = async () =>
  (await t.call('owner', { method: 'GET', url: '/v1/trends?kind=sump_discharge' })).body.items as {
    address: string;
    name: string;
    occlusion: { mean: number };
    chances: { plugWithinYear: number };
    dueOn: string;
  }[];

test('names and "last cleaned" are enough: what was cleaned last week is believed clean, the rest not', async () => {
  const at = new Map((await trends()).map((trend) => [trend.address[0], trend]));
  expect(at.get('1')?.occlusion.mean).toBeLessThan(0.12);
  expect(at.get('2')?.occlusion.mean).toBeGreaterThan(0.25);
  expect(at.get('1')?.chances.plugWithinYear).toBeLessThan(at.get('2')?.chances.plugWithinYear ?? 0);
  expect(at.get('1')?.name).toBe('sump discharge (assumed)');
});

test('a house nobody put on the map is routed all the same, and the plan says that its place is a guess', async () => {
  const routes = (await t.call('dispatcher', { method: 'GET', url: '/v1/plans?limit=1' })).body.items[0];
  const { body } = await t.call('dispatcher', { method: 'GET', url: `/v1/plans/${routes.id}` });
  expect(body.warnings.map((warning: { code: string }) => warning.code)).toContain('assumed_place');
  const placed = await t.call('dispatcher', { method: 'GET', url: '/v1/work-orders?state=placed' });
  expect(placed.body.items.length).toBeGreaterThan(0);
});

test('lines that are only thought to be past their limit are no news: nobody has read them', async () => {
  const { rows } = await t.pool.query('SELECT count(*)::int AS n FROM trend WHERE action_chance_30d > 0.5');
  expect(rows[0]?.['n']).toBeGreaterThan(0);
  const events = await t.call('owner', { method: 'GET', url: '/v1/events?type=line_past_limit' });
  expect(events.body.items).toEqual([]);
});
