import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let siteId: string;

beforeAll(async () => {
  t = await testHouse();
  siteId = (await post('/v1/sites', { address: '1 Marsh Gate', town: 'Brindle' })).id;
});

async function post(url: string, payload: object): Promise<Json> {
  const answer = await t.call('dispatcher', { method: 'POST', url, payload });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
}

const patch = (url: string, payload: object) =>
  t.call('dispatcher', { method: 'PATCH', url, payload, headers: { 'if-match': '*' } });

test('empty lists are kept as lists, in list columns and in jsonb columns', async () => {
  const made = await post('/v1/sites', {
    address: '2 Marsh Gate',
    town: 'Brindle',
    hours: [{ weekday: 'mon', from: '09:00', to: '12:00' }],
  });
  const changed = await patch(`/v1/sites/${made.id}`, { hours: [] });
  expect(changed.body.hours).toEqual([]);
  const contact = await post('/v1/contacts', { siteId, name: 'A. Reed', mayConsentTo: ['digs'] });
  expect(contact.mayConsentTo).toEqual(['digs']);
  expect((await patch(`/v1/contacts/${contact.id}`, { mayConsentTo: [] })).body.mayConsentTo).toEqual([]);
  const fresh = await post('/v1/sites', {
    id: randomUUID(),
    address: '3 Marsh Gate',
    town: 'Brindle',
    hours: [],
  });
  expect(fresh.hours).toEqual([]);
});
