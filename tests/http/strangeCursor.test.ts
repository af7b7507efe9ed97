import { createHash } from 'node:crypto';
import { expect, test } from 'vitest';
import { testHouse } from '../setup/testHouse.js';

test('a cursor made by hand, right in form and with a value of another type, is refused in our own words', async () => {
  const t = await testHouse();
  const id = '019abcde-0000-7000-8000-000000000001';
  const value = 'not a date';
  for (const name of ['Reed', 'Calder'])
    await t.call('dispatcher', { method: 'POST', url: '/v1/clients', payload: { name } });
  const { body } = await t.call('dispatcher', { method: 'GET', url: '/v1/clients?limit=1' });
  const [given] = JSON.parse(Buffer.from(body.next, 'base64url').toString());
  expect(given).toMatch(/^20/);
  // As paging.ts makes them: sha256 of value, id, and list with query; 16 signs.
  const of = JSON.stringify(['clients', {}]);
  const check = createHash('sha256')
    .update(JSON.stringify([value, id, of]))
    .digest('base64url')
    .slice(0, 16);
  const cursor = Buffer.from(JSON.stringify([value, id, check])).toString('base64url');
  const answer = await t.call('dispatcher', { method: 'GET', url: `/v1/clients?limit=1&cursor=${cursor}` });
  expect([answer.status, answer.body.type]).toEqual([400, '/problems/bad-cursor']);
  expect(answer.body.errors[0].detail).toBe('is none that this list gave out');
});
