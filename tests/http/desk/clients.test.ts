import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });
const client = async (more: object): Promise<string> => {
  const id = randomUUID();
  await t.house.stores.rows.insert('client', { id, name: 'Client', ...more });
  return id;
};
const site = async (address: string, clientId: string | null, more: object = {}): Promise<string> => {
  const { rows } = t.house.stores;
  const id = randomUUID();
  await rows.insert('site', { id, address, town: 'Brindle', area: 'Brindle', ...more });
  if (clientId !== null)
    await rows.insert('site_client', {
      id: randomUUID(),
      site_id: id,
      client_id: clientId,
      from_day: '2024-01-01',
    });
  return id;
};
const found = async (query: string) =>
  (await get(`/v1/search?${query}`)).items.map((hit: Json) => [hit.type, hit.id, hit.matched]);

test('found by name, street with a slip of the pen, phone in any writing, and number', async () => {
  const reed = await client({ name: 'Amanda Reed', phone: '+1 (555) 010-0199' });
  const house = await site('145 Causeway Road', reed);
  const other = await site('7 Sluice Lane', null);
  const contact = randomUUID();
  await t.house.stores.rows.insert('contact', {
    id: contact,
    site_id: other,
    name: 'Otto Marsh',
    phone: '555.010.0777',
  });
  expect(await found('q=amanda')).toEqual([
    ['client', reed, 'name'],
    ['site', house, 'client'],
  ]);
  expect(await found('q=reed%20amanda')).toMatchObject([
    ['client', reed, 'name'],
    ['site', house, 'client'],
  ]);
  expect(await found('q=causway')).toEqual([['site', house, 'address']]);
  expect(await found('q=145%20causeway')).toEqual([['site', house, 'address']]);
  for (const phone of ['5550100199', '001 555 010 0199', '555-010-0199', '0199'])
    expect((await found(`q=${encodeURIComponent(phone)}`))[0], phone).toEqual(['client', reed, 'phone']);
  expect(await found('q=555%20010%200777')).toEqual([
    ['contact', contact, 'phone'],
    ['site', other, 'contact'],
  ]);
  const order = await t.order({ east: 3 });
  const { number } = await get(`/v1/work-orders/${order}`);
  expect((await found(`q=order%20${number}`))[0]).toEqual(['order', order, 'number']);
  expect(await found('q=100%25_')).toEqual([]);
  expect((await t.call('dispatcher', { method: 'GET', url: '/v1/search' })).status).toBe(422);
  expect((await t.call('technician', { method: 'GET', url: '/v1/search?q=reed' })).status).toBe(403);
});

test('a number is found with and without its country, its zero in front, and as people group it', async () => {
  const stored = {
    german: await client({ name: 'Uta Kern', phone: '0171 234567-8' }),
    abroad: await client({ name: 'Jan Holt', phone: '+44 (0)1632 960123' }),
    local: await client({ name: 'Bo Alder', phone: '555 0142' }),
  };
  const asked: [string, keyof typeof stored][] = [
    ['+49 171 2345678', 'german'],
    ['0049-171-234-5678', 'german'],
    ['01632 960 123', 'abroad'],
    ['+44 1632 960123', 'abroad'],
    ['+1 555 0142', 'local'],
    ['555.0142', 'local'],
  ];
  for (const [text, who] of asked)
    expect(await found(`q=${encodeURIComponent(text)}`), text).toEqual([['client', stored[who], 'phone']]);
});

test('the sites nearest to a point, by the great circle and not by degrees', async () => {
  // At 60° north a degree of longitude is half a degree of latitude: 0.012° east is nearer than 0.008° north.
  const north = await site('North', null, { latitude: 60.008, longitude: 20 });
  const east = await site('East', null, { latitude: 60, longitude: 20.012 });
  await site('Far', null, { latitude: 61, longitude: 20 });
  const { items } = await get('/v1/search?near=60,20&limit=2');
  expect(items.map(({ id }: Json) => id)).toEqual([east, north]);
  // 6 371 km × 0.012 × π/180 × cos 60° = 667 m; 6 371 km × 0.008 × π/180 = 890 m.
  expect(items.map(({ distanceMetres }: Json) => distanceMetres)).toEqual([667, 890]);
});

test('search goes by its indexes', async () => {
  const { rows } = await t.pool.query(
    `SELECT indexname FROM pg_indexes WHERE indexname IN ('client_words', 'client_phone_digits', 'contact_words', 'contact_phone_digits', 'site_words', 'site_point')`,
  );
  expect(rows).toHaveLength(6);
  await t.pool.query(
    `INSERT INTO client (id, name, phone) SELECT gen_random_uuid(), md5(i::text), lpad(i::text, 10, '0') FROM generate_series(1, 20000) i`,
  );
  await t.pool.query('ANALYZE client');
  const plans = await t.pool.query(
    `BEGIN; SET LOCAL enable_seqscan = off; EXPLAIN SELECT id FROM client WHERE regexp_replace(coalesce(phone, ''), '\\D', '', 'g') LIKE '%0000012345%'; COMMIT`,
  );
  expect(JSON.stringify(plans)).toContain('client_phone_digits');
});

test('doubles are found for a reason, and likelier ones first', async () => {
  const a = await client({ name: 'Amanda Reed', phone: '555 010 0199' });
  const b = await client({ name: 'Reed, Amanda', phone: '(555) 010-0199' });
  const c = await client({ name: 'A. Reed', email: 'reed@example.org' });
  await site('145 Causeway Road', a);
  await site('145 causeway road', c);
  await client({ name: 'Otto Marsh', phone: '555 010 0300' });
  const { items } = await get('/v1/client-doubles');
  const pairs = items.map(({ clients, because }: Json) => [
    clients.map(({ id }: Json) => id).sort(),
    because.map(({ code }: Json) => code),
  ]);
  expect(pairs).toEqual([[[a, b].sort(), ['same_phone', 'same_name']]]);
});

test('merged: sites, contacts and calls move, the old id points to the one that is kept', async () => {
  const kept = await client({ name: 'Amanda Reed', phone: '555 010 0199' });
  const double = await client({
    name: 'Mandy Reed',
    phone: '555 010 0200',
    email: 'reed@example.org',
    source: 'book',
    external_ref: 'R-1',
  });
  const older = await client({ name: 'A R' });
  const house = await site('145 Causeway Road', double);
  const asked = (keptId: string, doubleId: string) =>
    post(`/v1/clients/${keptId}/merger`, { doubleId, because: 'the same person' });
  expect((await asked(double, older)).status).toBe(200);
  const merged = await asked(kept, double);
  // What the kept one lacks comes from the double.
  expect(merged).toMatchObject({
    status: 200,
    body: { moved: { sites: 1 }, client: { email: 'reed@example.org' } },
  });
  const old = await get(`/v1/clients/${double}`);
  expect(old).toMatchObject({ mergedIntoId: kept, archivedOn: '2026-10-01' });
  // A chain is one step long.
  expect((await get(`/v1/clients/${older}`)).mergedIntoId).toBe(kept);
  expect((await get(`/v1/site-clients?siteId=${house}`)).items).toMatchObject([
    { clientId: kept, fromDay: '2024-01-01' },
  ]);
  // The other number is still found.
  expect((await found('q=5550100200')).map(([type]: Json) => type)).toContain('contact');
  const { rows } = await t.pool.query(
    `SELECT op FROM change_log WHERE resource = 'client' AND row_id = $1 AND op = 'changed'`,
    [double],
  );
  expect(rows.length).toBeGreaterThan(0);
  expect((await asked(kept, double)).body.errors).toMatchObject([{ pointer: '#/doubleId' }]);
  expect((await asked(kept, kept)).status).toBe(422);
  expect((await asked(randomUUID(), kept)).status).toBe(404);
  const change = await t.call('dispatcher', {
    method: 'PATCH',
    url: `/v1/clients/${double}`,
    headers: { 'if-match': '*' },
    payload: { name: 'X' },
  });
  expect(change.status).toBe(422);
  // The books name the double still: what they bring goes to the kept client.
  expect((await t.house.stores.imports.known('client', 'book')).get('R-1')).toBe(kept);
});

test('a house sold: its client changes, terms end, open orders wait for the buyer', async () => {
  const { rows } = t.house.stores;
  const seller = await client({ name: 'Amanda Reed' });
  const order = await t.order({ east: 1 });
  const { siteId } = await get(`/v1/work-orders/${order}`);
  await rows.insert('site_client', {
    id: randomUUID(),
    site_id: siteId,
    client_id: seller,
    from_day: '2024-01-01',
  });
  const terms = randomUUID();
  await rows.insert('care_terms', { id: terms, site_id: siteId, interval_days: 180, from_day: '2024-01-01' });
  const sale = await post(`/v1/sites/${siteId}/sale`, {
    soldOn: '2026-09-30',
    buyer: { name: 'Bo Alder', phone: '555 0142' },
  });
  expect(sale).toMatchObject({
    status: 200,
    body: { sellerId: seller, endedTermIds: [terms], toDecide: [{ id: order, state: 'wanted' }] },
  });
  expect(sale.body.archivedContactIds).toHaveLength(1);
  const owners = (await get(`/v1/site-clients?siteId=${siteId}`)).items;
  expect(owners.map(({ clientId, fromDay, toDay }: Json) => [clientId, fromDay, toDay])).toEqual([
    [seller, '2024-01-01', '2026-09-30'],
    [sale.body.buyerId, '2026-09-30', null],
  ]);
  expect((await get(`/v1/work-orders/${order}`)).waitsFor).toMatchObject([
    { kind: 'consent', state: 'open', facts: { because: 'house sold' } },
  ]);
  const again = await post(`/v1/sites/${siteId}/sale`, { soldOn: '2026-09-30', buyer: null });
  expect(again.body.errors).toMatchObject([{ pointer: '#/soldOn' }]);
  expect((await post(`/v1/sites/${siteId}/sale`, { soldOn: '2027-01-01' })).status).toBe(422);
});

test('a site off the map is listed with its orders, and put on the map by hand', async () => {
  const off = await site('3 Sluice Lane', null);
  await site('4 Sluice Lane', null, { latitude: 44.51, longitude: -90.31 });
  const { items } = await get('/v1/sites-off-map');
  expect(items).toMatchObject([{ id: off, plannedAt: { latitude: 44.51, middleOf: 'Brindle' } }]);
  const put = await t.call('dispatcher', {
    method: 'PATCH',
    url: `/v1/sites/${off}`,
    headers: { 'if-match': `"${items[0].version}"` },
    payload: { latitude: 44.52, longitude: -90.32 },
  });
  expect(put.status).toBe(200);
  expect((await get('/v1/sites-off-map')).items).toEqual([]);
});
