import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { takeId } from '../../src/actions/takeId.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

/** Whether anybody waits for a lock in the house's database. */
const waits = async (t: TestHouse): Promise<boolean> =>
  (await t.pool.query(`SELECT count(*)::int AS n FROM pg_locks WHERE NOT granted`)).rows[0].n > 0;

test('a batch that comes twice at once is done once, and the second is told so', async () => {
  const t = await testHouse();
  const item = { id: randomUUID(), name: 'A. Reed' };
  let second: ReturnType<typeof t.call> | undefined;
  // The first call, not kept yet while the second has looked and waits for the id.
  await t.house.transact({ name: 'test' }, async (stores) => {
    await takeId(stores, 'client', item.id, item);
    await stores.rows.insert('client', item);
    second = t.call('dispatcher', { method: 'POST', url: '/v1/clients/batch', payload: { items: [item] } });
    while (!(await waits(t))) await sleep(20);
  });
  const answer = await second;
  expect(answer?.status, answer?.text).toBe(200);
  expect(answer?.body).toMatchObject({ new: 0, unchanged: 1 });
  expect((await t.pool.query('SELECT FROM conflict')).rowCount).toBe(0);
}, 60_000);

test('a batch takes its ids in their own order, so that two in other orders never wait for each other', async () => {
  const t = await testHouse();
  const [low = '', high = ''] = [randomUUID(), randomUUID()].sort();
  const items = [
    { id: high, name: 'B. Reed' },
    { id: low, name: 'A. Reed' },
  ];
  let second: ReturnType<typeof t.call> | undefined;
  await t.house.transact({ name: 'test' }, async (stores) => {
    await takeId(stores, 'client', low, items[1]);
    second = t.call('dispatcher', { method: 'POST', url: '/v1/clients/batch', payload: { items } });
    while (!(await waits(t))) await sleep(20);
    await takeId(stores, 'client', high, items[0]);
    for (const item of items) await stores.rows.insert('client', item);
  });
  const answer = await second;
  expect(answer?.status, answer?.text).toBe(200);
  expect(answer?.body.items).toEqual(items.map(({ id }) => ({ id, outcome: 'unchanged' })));
}, 60_000);
