import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';

let t: RoutedHouse;
let tern: string;
beforeAll(async () => {
  t = await routedHouse();
  tern = await t.keyOf('Tern');
}, 60_000);

const MOMENT = '2026-10-01T11:00:00Z';
const incident = (more: object, key = tern) =>
  t.as(key, 'POST', '/v1/incidents', { kind: 'damage', happenedAt: MOMENT, what: 'a lid cracked', ...more });
const office = (method: 'GET' | 'POST', url: string, payload?: object) =>
  t.call('dispatcher', { method, url, ...(payload ? { payload } : {}) });

test('a technician reports what went wrong at a house of the own routes, or at none', async () => {
  for (const more of [{ siteId: t.own.siteId }, { workOrderId: t.orderId }, {}])
    expect((await incident(more)).status, JSON.stringify(more)).toBe(201);
  // Heard of three days after the visit.
  t.clock.at = new Date('2026-10-04T12:00:00Z');
  const later = await incident({
    siteId: t.own.siteId,
    kind: 'flood_after_visit',
    happenedAt: '2026-10-04T11:00:00Z',
  });
  t.clock.at = new Date('2026-10-01T12:00:00Z');
  expect(later.status).toBe(201);
});

test('of other houses, and of what is not there, the answer is the same, by itself and by sync', async () => {
  const { rows } = t.house.stores;
  const before = await rows.count('incident', []);
  const places = [
    { siteId: t.foreign.siteId },
    { workOrderId: t.foreignOrderId },
    { siteId: randomUUID() },
    { workOrderId: randomUUID() },
    { siteId: t.own.siteId, workOrderId: t.foreignOrderId },
  ];
  for (const place of places) {
    const { status, body } = await incident(place);
    expect([status, body.type, body.detail]).toEqual([
      403,
      '/problems/not-yours',
      'The site is not on a route of your crew on 2026-10-01, and no call-out of yours to it is on record then.',
    ]);
  }
  const { body } = await t.as(tern, 'POST', '/v1/sync', {
    sentAt: '2026-10-01T12:00:00Z',
    items: places.map((place) => ({
      kind: 'incident',
      incident: 'damage',
      id: randomUUID(),
      at: MOMENT,
      what: 'a lid cracked',
      ...place,
    })),
  });
  for (const item of body.items) expect(item).toMatchObject({ outcome: 'refused', problem: { status: 403 } });
  expect(await rows.count('incident', [])).toBe(before);
});

test('an order of one house does not go with another house, whoever says so', async () => {
  const { status, body } = await office('POST', '/v1/incidents', {
    kind: 'damage',
    happenedAt: MOMENT,
    what: 'a lid cracked',
    siteId: t.own.siteId,
    workOrderId: t.foreignOrderId,
  });
  expect(status).toBe(422);
  expect(body.facts.rule).toBe('order-of-the-site');
});

test('the office takes an incident back with a reason: it stays on record, and nobody has to be told', async () => {
  const { body: made } = await incident({ siteId: t.own.siteId, kind: 'gas' });
  const withdraw = (payload: object) => office('POST', `/v1/incidents/${made.id}/withdrawal`, payload);
  expect((await withdraw({})).status).toBe(400);
  expect((await t.as(tern, 'POST', `/v1/incidents/${made.id}/withdrawal`, { because: 'x' })).status).toBe(
    403,
  );
  const { status, body } = await withdraw({ because: 'made up' });
  expect(status).toBe(200);
  expect(body).toMatchObject({
    withdrawnBy: 'dispatcher',
    withdrawnBecause: 'made up',
    withdrawnAt: '2026-10-01T12:00:00.000Z',
  });
  expect((await withdraw({ because: 'again' })).body.withdrawnBecause).toBe('made up');
  const idsOf = async (query: string) =>
    (await office('GET', `/v1/incidents${query}`)).body.items.map(({ id }: { id: string }) => id);
  expect(await idsOf('')).not.toContain(made.id);
  expect(await idsOf('?all=true')).toContain(made.id);
  const told = await office('POST', `/v1/incidents/${made.id}/telling`, { who: 'client', toldAt: null });
  expect([told.status, told.body.facts.state]).toEqual([409, 'withdrawn']);
});

test('an erasure takes the person’s words out of an incident that was taken back and of what only nearly happened', async () => {
  const clientId = randomUUID();
  await office('POST', '/v1/clients', { id: clientId, name: 'Orsolya Wennerbarrow' });
  const what = 'Orsolya Wennerbarrow keeps a dog that bites';
  const nearly = (await incident({ kind: 'near_miss', what })).body.id;
  const madeUp = (await incident({ kind: 'injury', what })).body.id;
  const true_ = (await incident({ kind: 'injury', what })).body.id;
  await office('POST', `/v1/incidents/${madeUp}/withdrawal`, { because: 'made up' });
  const erased = await t.call('owner', {
    method: 'POST',
    url: '/v1/erasures',
    payload: { person: 'client', personId: clientId },
  });
  expect(erased.status, erased.text).toBe(201);
  const words = async (id: string) => (await t.house.stores.rows.get('incident', id))?.['what'];
  expect(await words(nearly)).not.toContain('Wennerbarrow');
  expect(await words(madeUp)).not.toContain('Wennerbarrow');
  expect(await words(true_)).toBe(what);
});

test('a technician tells of rain where the own crew is that day, and nowhere else; the office everywhere', async () => {
  const rain = (payload: object) => t.as(tern, 'POST', '/v1/rain-reports', { endedAt: MOMENT, ...payload });
  await t.house.stores.rows.update('site', t.foreign.siteId, { area: 'Coldharbour' });
  expect((await rain({ area: 'brindle' })).status).toBe(201);
  expect((await rain({ area: 'Coldharbour' })).status).toBe(403);
  expect((await rain({})).status).toBe(403);
  expect(
    (await t.as(tern, 'POST', '/v1/rain-reports', { area: 'Brindle', endedAt: '2026-09-30T11:00:00Z' }))
      .status,
  ).toBe(403);
  expect((await office('POST', '/v1/rain-reports', { endedAt: MOMENT })).status).toBe(201);
});
