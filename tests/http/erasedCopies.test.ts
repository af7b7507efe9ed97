import { randomUUID } from 'node:crypto';
import { expect, test } from 'vitest';
import { testHouse } from '../setup/testHouse.js';

test('copies of an erased person’s record lose what the record loses: what was answered, and what was kept as a conflict', async () => {
  const t = await testHouse();
  const [id, other] = [randomUUID(), randomUUID()];
  const post = (payload: object, key: string) =>
    t.call('dispatcher', {
      method: 'POST',
      url: '/v1/clients',
      payload,
      headers: { 'idempotency-key': key },
    });
  const note = 'diabetic; spare key under the blue pot';
  const first = { id, name: 'Orsolya Wennerbarrow', phone: '274-555-0143', note };
  expect((await post(first, 'a')).status).toBe(201);
  expect((await post({ id: other, name: 'Ines Calder', note: 'gate code by phone' }, 'b')).status).toBe(201);
  expect((await post({ ...first, note: `${note}, moved out` }, 'c')).status).toBe(409);
  const erased = await t.call('owner', {
    method: 'POST',
    url: '/v1/erasures',
    payload: { person: 'client', personId: id },
  });
  expect(erased.status, erased.text).toBe(201);
  const conflicts = await t.call('owner', { method: 'GET', url: `/v1/conflicts?resourceId=${id}` });
  expect(conflicts.body.items).toHaveLength(1);
  expect(conflicts.body.items[0].content).toMatchObject({ name: '[erased]', note: null, phone: null });
  const again = await post(first, 'a');
  expect(again.headers['idempotency-replayed']).toBe('true');
  expect(again.body).toMatchObject({ id, note: null, phone: null });
  // Nobody else's.
  expect((await post({ id: other, name: 'Ines Calder', note: 'gate code by phone' }, 'b')).body.note).toBe(
    'gate code by phone',
  );
});
