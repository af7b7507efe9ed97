import { randomUUID } from 'node:crypto';
import { expect, test } from 'vitest';
import { importClientBase } from '../../../src/actions/importClientBase.js';
import { runNight } from '../../../src/actions/night/runNight.js';
import { readClientBase } from '../../../src/files/clientBase.js';
import { csvFromText } from '../../../src/files/csvSource.js';
import { type Json, type TestHouse, testHouse } from '../../setup/testHouse.js';

const DAY = '2026-10-01';
const HOUSES = 36;

/** One crew; all houses were cleaned on one day and are promised a visit every ninety days: all fall due in one week. */
async function sameWeek(): Promise<TestHouse> {
  const t = await testHouse(`${DAY}T07:00:00Z`);
  const sites = Array.from({ length: HOUSES }, (_, i) => `Client ${i},${i + 1} Marsh Gate,2026-08-29\n`);
  const crew =
    'crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays\n' +
    'C1,Heron,North yard,44.8,-90.2,hose;jetter;camera,07:30,16:00,mon;tue;wed;thu;fri\n';
  const read = await readClientBase(
    {
      sites: csvFromText('sites.csv', `client,address,last_cleaned\n${sites.join('')}`),
      crews: csvFromText('crews.csv', crew),
    },
    DAY,
  );
  if ('faults' in read) throw new Error(JSON.stringify(read.faults));
  await importClientBase(t.house, { name: 'test' }, { base: read.base, source: 'book', asOf: DAY });
  const { rows } = t.house.stores;
  for (const site of await rows.all('site', []))
    await rows.insert('care_terms', {
      id: randomUUID(),
      site_id: site['id'],
      interval_days: 90,
      from_day: '2026-01-01',
    });
  await runNight(t.house, {
    businessDay: DAY,
    askedBy: 'test',
    holder: 'test',
    routeSeconds: 1,
    routeIterations: 100,
  });
  return t;
}

test('a week in which everything falls due is evened out over those before it, none later than promised', async () => {
  const t = await sameWeek();
  const { weeks, moved } = (await t.call('dispatcher', { method: 'GET', url: '/v1/workload' })).body;
  // 29 August and 90 days: Friday 27 November. A visit is 3.44 crew-hours, so a week of 42.5 h holds twelve.
  expect(weeks.map((week: Json) => week.asDue.visits)).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 36, 0, 0, 0]);
  expect(weeks.map((week: Json) => week.visits)).toEqual([0, 0, 0, 0, 0, 0, 12, 12, 12, 0, 0, 0]);
  for (const { hours, capacityHours } of weeks) expect(hours.q50).toBeLessThanOrEqual(capacityHours);
  expect(weeks[8].asDue.hours).toBeGreaterThan(2.5 * weeks[8].capacityHours);
  // Crews come up to a fortnight ahead as ever: no client is told of another day.
  expect(moved).toEqual([]);
  const owner = { method: 'GET', url: '/v1/settings' } as const;
  const { settings } = (await t.call('owner', owner)).body;
  expect(settings.visits).toMatchObject({
    aheadDays: 14,
    levelDays: 21,
    levelFromShare: 0.05,
    lateSpreadDays: 42,
  });
});
