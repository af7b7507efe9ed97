import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { type PitHouse, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** What a plug raised ends with the plug, as long as nobody began it. */
let t: WorkedHouse;

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
}, 60_000);

const plug = (house: PitHouse, observedAt: string): Promise<Json> =>
  t.send('/v1/inspections', {
    lineId: house.footing.id,
    observedAt: t.at(observedAt),
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
const clean = (house: PitHouse, cleanedAt: string, more: object = {}): Promise<Json> =>
  t.send('/v1/cleans', { lineId: house.footing.id, cleanedAt: t.at(cleanedAt), ...more });
const raisedAt = async (house: PitHouse): Promise<Json[]> =>
  (await t.get(`/v1/work-orders?siteId=${house.site.id}`)).items.filter(
    (order: Json) => order.cause === 'plugged',
  );

test('a find that is withdrawn takes the untouched order with it, and says why', async () => {
  const house = await t.build();
  const found = await plug(house, '2026-06-01T08:00:00Z');
  expect(await raisedAt(house)).toMatchObject([{ state: 'wanted' }]);
  await t.send(`/v1/inspections/${found.id}/withdrawal`, { because: 'wrong line' }, 200);
  expect(await raisedAt(house)).toMatchObject([
    { state: 'withdrawn', withdrawnBecause: 'the find was withdrawn: wrong line' },
  ]);
});

test('so does a clean on record since, unless its flow was not proven', async () => {
  const house = await t.build();
  await plug(house, '2026-05-01T08:00:00Z');
  await clean(house, '2026-05-01T09:00:00Z', { flowProven: 'no' });
  expect(await raisedAt(house)).toMatchObject([{ state: 'wanted' }]);
  await clean(house, '2026-05-02T09:00:00Z');
  expect(await raisedAt(house)).toMatchObject([
    { state: 'withdrawn', withdrawnBecause: expect.stringContaining('the clean of 2026-05-02') },
  ]);
});

test('a plug of old books, cleaned on record since, raises nothing', async () => {
  const house = await t.build();
  await clean(house, '2026-05-02T09:00:00Z');
  await plug(house, '2026-05-01T08:00:00Z');
  expect(await raisedAt(house)).toEqual([]);
});

test('work begun is finished', async () => {
  const house = await t.build();
  const found = await plug(house, '2026-06-01T08:00:00Z');
  const [order] = (await raisedAt(house)) as [Json];
  await t.mayDig(order);
  await t.begin(order, '2026-06-04T12:30:00Z');
  await t.send(`/v1/inspections/${found.id}/withdrawal`, { because: 'seen again' }, 200);
  expect(await raisedAt(house)).toMatchObject([{ state: 'under_way' }]);
});
