import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';

let t: RoutedHouse;
let tern: string;
beforeEach(async () => {
  t = await routedHouse();
  tern = await t.keyOf('Tern');
}, 60_000);

/** Another order at the house that is on the technician's route today. */
async function orderAtOwnHouse(cause: string, state = 'wanted'): Promise<string> {
  const id = randomUUID();
  await t.house.stores.rows.insert('work_order', { id, site_id: t.own.siteId, cause, minutes: 60, state });
  return id;
}
const begin = (id: string) =>
  t.as(tern, 'POST', `/v1/work-orders/${id}/start`, {
    startedAt: '2026-10-01T11:00:00Z',
    cautionsSeen: true,
  });
const price = (id: string) =>
  t.as(tern, 'POST', `/v1/work-orders/${id}/price-acceptances`, {
    by: 'Ines Calder',
    amountMinor: 1,
    acceptedAt: '2026-10-01T11:00:00Z',
  });
const read = (id: string) => t.as(tern, 'GET', `/v1/work-orders/${id}`);

test('work that the office asked for at a house of the route, and put on no route, is neither shown nor begun nor priced', async () => {
  const id = await orderAtOwnHouse('asked');
  expect((await read(id)).status).toBe(404);
  for (const answer of [await begin(id), await price(id)])
    expect(answer).toMatchObject({ status: 403, body: { type: '/problems/not-yours' } });
  const { body } = await t.as(tern, 'POST', '/v1/sync', {
    sentAt: '2026-10-01T12:00:00Z',
    items: [
      { kind: 'start', id: randomUUID(), at: '2026-10-01T11:00:00Z', workOrderId: id, cautionsSeen: true },
    ],
  });
  expect(body.items).toMatchObject([{ outcome: 'refused', problem: { status: 403 } }]);
  expect(await t.house.stores.rows.get('work_order', id)).toMatchObject({
    state: 'wanted',
    price_minor: null,
  });
});

test('another crew’s order at that house is theirs, even where it came of a visit', async () => {
  const id = await orderAtOwnHouse('follow_up', 'placed');
  const [depot] = await t.house.stores.rows.all('depot', []);
  const [plan] = await t.house.stores.rows.all('plan', []);
  const [crewId, routeId] = [randomUUID(), randomUUID()];
  await t.house.stores.rows.insert('crew', {
    id: crewId,
    name: 'Plover',
    depot_id: depot?.['id'],
    people: 2,
  });
  await t.house.stores.rows.insert('route', {
    id: routeId,
    plan_id: plan?.['id'],
    crew_id: crewId,
    day: '2026-10-01',
    state: 'live',
  });
  await t.house.stores.rows.insert('stop', {
    id: randomUUID(),
    route_id: routeId,
    position: 1,
    travel_s: 0,
    travel_m: 0,
    kind: 'visit',
    work_order_id: id,
    arrives_at: '2026-10-01T14:00:00Z',
    starts_at: '2026-10-01T14:00:00Z',
    ends_at: '2026-10-01T15:00:00Z',
    live: true,
  });
  expect((await read(id)).status).toBe(404);
  expect((await begin(id)).status).toBe(403);
});

test('what came of a visit at a house of the route, and nobody has yet, the crew reads and begins', async () => {
  const id = await orderAtOwnHouse('follow_up');
  expect((await read(id)).status).toBe(200);
  expect((await begin(id)).status).toBe(200);
  // The next day the house is on no route of the crew.
  t.clock.at = new Date('2026-10-02T12:00:00Z');
  expect((await read(await orderAtOwnHouse('follow_up'))).status).toBe(404);
});

test('the own stop is read and begun, also once the office took it off the route again', async () => {
  const [stop] = await t.house.stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: t.orderId },
  ]);
  await t.house.stores.rows.update('stop', String(stop?.['id']), { live: false });
  expect((await begin(t.orderId)).status).toBe(200);
});
