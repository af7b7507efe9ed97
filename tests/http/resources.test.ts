import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

const newSite = (more: Record<string, unknown> = {}): Record<string, unknown> => ({
  address: '1 Marsh Gate',
  town: 'Brindle',
  ...more,
});

test('no key: 401; a key without the role: 403', async () => {
  expect((await t.call(null, { method: 'GET', url: '/v1/sites' })).status).toBe(401);
  expect((await t.call('technician', { method: 'GET', url: '/v1/sites' })).status).toBe(403);
});

test('a site is made, read, changed with its version, and a stale change is refused', async () => {
  const made = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    payload: newSite({ basement: 'finished' }),
  });
  expect(made.status).toBe(201);
  const url = `/v1/sites/${made.body.id}`;
  expect((await t.call('owner', { method: 'GET', url })).body.basement).toBe('finished');
  expect((await t.call('dispatcher', { method: 'PATCH', url, payload: { town: 'Alder Quay' } })).status).toBe(
    428,
  );
  const changed = await t.call('dispatcher', {
    method: 'PATCH',
    url,
    payload: { town: 'Alder Quay' },
    headers: { 'if-match': '"1"' },
  });
  expect(changed.body).toMatchObject({ town: 'Alder Quay', version: 2 });
  const stale = await t.call('dispatcher', {
    method: 'PATCH',
    url,
    payload: { town: 'X' },
    headers: { 'if-match': '"1"' },
  });
  expect(stale.status).toBe(412);
  expect((await t.call('owner', { method: 'GET', url, headers: { 'if-none-match': '"2"' } })).status).toBe(
    304,
  );
});

test('the same id with the same content gets the same answer; with other content it is a conflict, kept', async () => {
  const payload = newSite({ id: randomUUID() });
  const first = await t.call('dispatcher', { method: 'POST', url: '/v1/sites', payload });
  const again = await t.call('dispatcher', { method: 'POST', url: '/v1/sites', payload });
  expect(again.body).toEqual(first.body);
  const other = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    payload: { ...payload, town: 'Elsewhere' },
  });
  expect(other.status).toBe(409);
  const kept = await t.house.stores.rows.all('conflict', [
    { column: 'resource_id', is: '=', value: payload['id'] },
  ]);
  expect(kept).toHaveLength(1);
});

test('an idempotency key replays the first answer and refuses another request', async () => {
  const headers = { 'idempotency-key': '"abc"' };
  const first = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/clients',
    payload: { name: 'Client' },
    headers,
  });
  const again = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/clients',
    payload: { name: 'Client' },
    headers,
  });
  expect(again.body).toEqual(first.body);
  expect(again.headers['idempotency-replayed']).toBe('true');
  const other = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/clients',
    payload: { name: 'Other' },
    headers,
  });
  expect(other.status).toBe(422);
});

test('bad fields are named with what is wrong', async () => {
  const bad = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    payload: { ...newSite(), basement: 'attic', colour: 'red', latitude: 200 },
  });
  expect(bad.status).toBe(400);
  expect(bad.headers['content-type']).toContain('application/problem+json');
  const pointers = bad.body.errors.map((fault: { pointer: string }) => fault.pointer);
  expect(pointers).toContain('#/basement');
  expect(pointers).toContain('#/latitude');
  const nul = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    payload: newSite({ address: 'a\u0000b' }),
  });
  expect(nul.status).toBe(400);
});

test('lists page through everything once, also by distance, and as CSV', async () => {
  for (let i = 0; i < 7; i++) {
    await t.call('dispatcher', {
      method: 'POST',
      url: '/v1/sites',
      payload: newSite({ town: 'Pages', address: `${i} Kiln Lane`, latitude: 44 + i / 100, longitude: -90 }),
    });
  }
  const seen: string[] = [];
  let next: string | null = null;
  do {
    const page: Awaited<ReturnType<TestHouse['call']>> = await t.call('dispatcher', {
      method: 'GET',
      url: `/v1/sites?town=Pages&limit=3&sort=-address${next ? `&cursor=${next}` : ''}`,
    });
    expect(page.status).toBe(200);
    seen.push(...page.body.items.map((item: { address: string }) => item.address));
    next = page.body.next;
  } while (next);
  expect(seen).toEqual([6, 5, 4, 3, 2, 1, 0].map((i) => `${i} Kiln Lane`));
  const near = await t.call('dispatcher', {
    method: 'GET',
    url: '/v1/sites?town=Pages&limit=2&near=44.031,-90',
  });
  expect(near.body.items[0].address).toBe('3 Kiln Lane');
  const csv = await t.call('dispatcher', {
    method: 'GET',
    url: '/v1/sites?town=Pages',
    headers: { accept: 'text/csv' },
  });
  expect(csv.text.trim().split('\n')).toHaveLength(8);
  const wrong = await t.call('dispatcher', { method: 'GET', url: '/v1/sites?cursor=bm9wZQ' });
  expect(wrong.status).toBe(400);
});

test('a unit of the wrong dimension is refused with the right ones; answers come in the asked system', async () => {
  const site = await t.call('dispatcher', { method: 'POST', url: '/v1/sites', payload: newSite() });
  const system = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/systems',
    payload: { siteId: site.body.id, name: 'Pit', kind: 'pit' },
  });
  const line = { siteId: site.body.id, systemId: system.body.id, name: 'Discharge', kind: 'sump_discharge' };
  const wrong = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/lines',
    payload: { ...line, length: { value: 3, unit: 'gpm' } },
  });
  expect(wrong.status).toBe(400);
  expect(wrong.body.detail).toContain('mm, cm, m, in, ft');
  const made = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/lines?units=us',
    payload: { ...line, length: { value: 100, unit: 'ft' } },
  });
  expect(made.body.length).toEqual({ value: 100, unit: 'ft' });
  const metric = await t.call('dispatcher', { method: 'GET', url: `/v1/lines/${made.body.id}` });
  expect(metric.body.length).toEqual({ value: 30.48, unit: 'm' });
});

test('a reference to nothing names the field', async () => {
  const bad = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/systems',
    payload: { siteId: randomUUID(), name: 'Pit', kind: 'pit' },
  });
  expect(bad.status).toBe(422);
  expect(bad.body.errors[0].pointer).toBe('#/siteId');
});
