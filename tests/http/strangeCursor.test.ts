import { createHmac } from 'node:crypto';
import { expect, test } from 'vitest';
import { testHouse } from '../setup/testHouse.js';

/** HMAC-SHA-256 (RFC 2104), its first 16 bytes before what it seals. */
function sealOf(secret: Buffer, place: string): string {
  const seal = createHmac('sha256', secret).update(place).digest().subarray(0, 16);
  return Buffer.concat([seal, Buffer.from(place)]).toString('base64url');
}

test('a place of an earlier release, sealed and with a value of another type, is refused in our own words', async () => {
  const t = await testHouse();
  for (const name of ['Reed', 'Calder'])
    await t.call('dispatcher', { method: 'POST', url: '/v1/clients', payload: { name } });
  const { body } = await t.call('dispatcher', { method: 'GET', url: '/v1/clients?limit=1' });
  const [given, id, mark] = JSON.parse(Buffer.from(body.next, 'base64url').subarray(16).toString());
  expect(given).toMatch(/^20/);
  const secret = await t.house.stores.keys.secretOf('cursor');
  const cursor = sealOf(secret, JSON.stringify(['not a date', id, mark]));
  const answer = await t.call('dispatcher', { method: 'GET', url: `/v1/clients?limit=1&cursor=${cursor}` });
  expect([answer.status, answer.body.type]).toEqual([400, '/problems/bad-cursor']);
  expect(answer.body.errors[0].detail).toBe('is none that this list gave out');
});
