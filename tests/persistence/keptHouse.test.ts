import { expect, test } from 'vitest';
import { holdPost, keptHouse, RESTORED, releasePost, settleHouse } from '../../src/persistence/keptHouse.js';
import { makeStores } from '../../src/persistence/stores.js';
import { testDatabase } from '../setup/testDatabase.js';

test('zone, currency and units are of the first start; another value is refused with what to do, unless taken on purpose', async () => {
  const { pool } = await testDatabase();
  expect(await keptHouse(pool)).toBeNull();
  const first = await settleHouse(pool, { timeZone: 'Europe/Berlin', currency: 'EUR' });
  expect(first).toMatchObject({ timeZone: 'Europe/Berlin', currency: 'EUR', units: 'us', taken: ['UNITS'] });

  // Nothing set is as it is kept.
  expect(await settleHouse(pool, {})).toEqual({ ...first, taken: [] });
  const other = settleHouse(pool, { timeZone: 'Pacific/Kiritimati', currency: 'EUR', units: 'metric' });
  await expect(other).rejects.toThrow(/TIME_ZONE is Pacific\/Kiritimati.*kept in Europe\/Berlin.*--as-set/);
  await expect(other).rejects.toThrow(/UNITS is metric/);
  await expect(other).rejects.not.toThrow(/CURRENCY/);

  const moved = await settleHouse(pool, { timeZone: 'America/Denver' }, { asSet: true });
  expect(moved).toMatchObject({ id: first.id, timeZone: 'America/Denver', currency: 'EUR' });
});

test('instances that start at once agree on one business', async () => {
  const { pool } = await testDatabase();
  const all = await Promise.allSettled([
    settleHouse(pool, { timeZone: 'Europe/Berlin' }),
    settleHouse(pool, { timeZone: 'Europe/Paris' }),
    settleHouse(pool, {}),
  ]);
  const kept = await keptHouse(pool);
  const fine = all.flatMap((each) => (each.status === 'fulfilled' ? [each.value] : []));
  // Whoever says nothing agrees with whoever came first; of the others only that one does, and nobody where it was the first.
  expect(all[2]?.status).toBe('fulfilled');
  for (const each of fine) expect(each).toMatchObject({ id: kept?.id, timeZone: kept?.timeZone });
});

test('a restored base has a mark of its own, its endpoints are off and nothing goes out until somebody says so', async () => {
  const { pool } = await testDatabase();
  const { id } = await settleHouse(pool, {});
  const { post } = makeStores(pool);
  const endpoint = async (disabled: string | null) => {
    const { rows } = await pool.query(
      `INSERT INTO webhook_endpoint (id, url, event_types, secret, disabled_at, disabled_because)
       VALUES (gen_random_uuid(), 'https://hooks.example.org/', '{work_finished}', $1, CASE WHEN $2::text IS NULL THEN NULL ELSE now() END, $2) RETURNING id`,
      [Buffer.alloc(32), disabled],
    );
    return String(rows[0].id);
  };
  const [open, off] = [await endpoint(null), await endpoint('gone')];
  const because = async (of: string) =>
    (await pool.query('SELECT disabled_because AS said FROM webhook_endpoint WHERE id = $1', [of])).rows[0]
      .said;
  expect(await post.isHeld()).toBe(false);
  await holdPost(pool);
  expect(await post.isHeld()).toBe(true);
  expect((await keptHouse(pool))?.id).not.toBe(id);
  expect([await because(open), await because(off)]).toEqual([RESTORED, 'gone']);

  expect(await releasePost(pool)).toMatch(/^\d{4}-/);
  expect(await post.isHeld()).toBe(false);
  expect([await because(open), await because(off)]).toEqual([null, 'gone']);
  expect(await releasePost(pool)).toBeNull();
});
