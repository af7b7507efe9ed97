import { beforeAll, expect, test } from 'vitest';
import { readXml } from '../papers/readSvg.js';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeAll(async () => {
  t = await plannedHouse();
  const row = { lock_crew_id: t.crews.heron, lock_day: THURSDAY, water_l: 378, sludge_l: 40 };
  for (const east of [1, 2, 3]) await t.order({ east, minutes: 30, kit: ['jetter'], row });
  await t.pool.query(`UPDATE site SET tap = 'no' WHERE address IN ('1 Marsh Gate', '2 Marsh Gate')`);
}, 60_000);

const get = (url: string, accept = 'application/json') =>
  t.call('dispatcher', { method: 'GET', url, headers: { accept } });
const heron = async (units = 'us'): Promise<Json> =>
  (await get(`/v1/routes?day=${THURSDAY}&crewId=${t.crews.heron}&units=${units}`)).body.items[0];
const plain = (words: string) => words.replaceAll(/[\u2068\u2069]/g, '').replaceAll(/[\u00A0\u202F]/g, ' ');
const sheet = async (routeId: string) =>
  plain(
    readXml(
      (await get(`/v1/routes/${routeId}/sheet?units=us`, 'text/html')).text
        .replace('<!DOCTYPE html>\n', '')
        .trimEnd(),
    ).text,
  );

test('a tank nobody wrote down: plan, route and sheet say that the water is unchecked', async () => {
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 1 });
  const said = plan['warnings'].find(({ code }: Json) => code === 'tank_not_recorded');
  expect(plain(said.text)).toMatch(
    /^no tap at orders \d+, \d+: bring about .* of Heron’s tank is not recorded/,
  );
  await t.accept(plan['id']);
  const route = await heron();
  // 2 × 378 / 3.785 = 199.7
  expect(plain(route.warnings[0].text)).toContain('bring about 200 gal of water');
  const water = route.onBoard.find(({ kind }: Json) => kind === 'water');
  // The third house may have a tap or not: 3 × 378 / 3.785 = 299.6
  expect(water).toMatchObject({ holds: null, needs: { unit: 'gal' } });
  expect(water.needs.value).toBeCloseTo(300, 0);
  expect(route.onBoard.map(({ text }: Json) => plain(text))).toContain(
    'buckets with lids for about 31.7 gal of sludge',
  );
  const words = await sheet(route.id);
  expect(words).toContain('Before you leaveNo tap at orders');
  expect(words).toContain('No tap: bring the water, about 99.9 gal; tank size not recorded.');
});

test('once it is on record the search fills the tank on the way, and the sheet names what it holds', async () => {
  await t.pool.query(`UPDATE kit_item SET tank_l = 757, waste_l = 100 WHERE name = 'Heron''s jetter'`);
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 1 });
  expect(plan['warnings'].map(({ code }: Json) => code)).not.toContain('tank_not_recorded');
  await t.accept(plan['id']);
  const route = await heron('metric');
  expect(route.warnings).toEqual([]);
  // 3 × 378 L out of a tank of 757 L, 3 × 40 L into one of 100 L: one stop to fill and empty.
  expect(
    route.stops.map(({ kind }: Json) => kind).filter((kind: string) => kind !== 'visit' && kind !== 'break'),
  ).toHaveLength(1);
  expect(route.onBoard.find(({ kind }: Json) => kind === 'water')).toMatchObject({
    items: ["Heron's jetter"],
    holds: { value: 757, unit: 'L' },
  });
  const words = await sheet(route.id);
  expect(words).toContain("water tank 200 gal of Heron's jetter, full: about 300 gal needed from it");
  expect(words).toContain("waste tank 26.4 gal of Heron's jetter, empty: about 31.7 gal of sludge");
  expect(words).toContain('empty the sludge there too');
  expect(words).not.toContain('tank size not recorded');
});
