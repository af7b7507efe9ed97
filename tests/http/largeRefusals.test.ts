import { beforeAll, expect, test } from 'vitest';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

/** A refusal is not larger than what was refused, and leaves little or nothing behind. */
let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
}, 60_000);

const uuid = (n: number) => `019abcde-0000-7000-8000-${String(n).padStart(12, '0')}`;
const many = (count: number) => Object.fromEntries(Array.from({ length: count }, (_, i) => [`k${i}`, 1]));
const sync = (items: object[]) =>
  t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sync',
    payload: { sentAt: '2026-10-01T12:00:00Z', items },
  });
const kept = async () =>
  (
    await t.pool.query(
      'SELECT count(*)::int AS n, coalesce(sum(pg_column_size(s.*)), 0)::int AS bytes FROM sync_item s',
    )
  ).rows[0];

test('of a third of a million faults twenty are told, and how many more there are', async () => {
  const { status, body, text } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/notes',
    payload: many(330_000),
  });
  expect(status).toBe(400);
  expect(body.errors).toHaveLength(20);
  expect(text.length).toBeLessThan(10_000);
  // Beside the unknown fields siteId, text and notedAt are missing: 330,003 in all.
  expect(body.detail).toContain('And 329983 more of the kind');
});

test('a name as long as a body is not said back', async () => {
  const { status, text } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/notes',
    payload: { ['k'.repeat(1_000_000)]: 1 },
  });
  expect(status).toBe(400);
  expect(text.length).toBeLessThan(5_000);
});

test('a sync of items with hundreds of unknown fields is answered shortly and keeps few faults of each', async () => {
  const items = Array.from({ length: 100 }, (_, i) => ({
    kind: 'note',
    id: uuid(i),
    at: '2026-10-01T11:00:00Z',
    ...many(600),
  }));
  const { status, body, text } = await sync(items);
  expect(status).toBe(200);
  expect(body.items).toHaveLength(100);
  expect(body.items[0].problem.errors).toHaveLength(5);
  expect(text.length).toBeLessThan(JSON.stringify(items).length);
  expect((await kept()).n).toBe(100);
});

test('an item longer than any right one is refused whole and not kept', async () => {
  const before = await kept();
  const { body } = await sync([
    { kind: 'note', id: uuid(9000), at: '2026-10-01T11:00:00Z', ...many(20_000) },
    { kind: 'note', id: uuid(9001), at: '2026-10-01T11:00:00Z', siteId: uuid(1), text: 'x'.repeat(70_000) },
  ]);
  for (const [i, item] of body.items.entries())
    expect(item).toMatchObject({
      id: uuid(9000 + i),
      kind: 'note',
      outcome: 'refused',
      problem: { status: 422, errors: [{ remedy: 'at most 65536: one thing that happened an item' }] },
    });
  expect(await kept()).toEqual(before);
});

test('of one author a thousand refused items are kept, whatever refused them; the answers tell of all', async () => {
  for (let call = 0; call < 3; call++) {
    const { body } = await sync(
      Array.from({ length: 500 }, (_, i) => ({
        kind: 'note',
        id: uuid(10_000 + 500 * call + i),
        at: '2026-10-01T11:00:00Z',
        // Every second one has the right form, for a site that is not there.
        ...(i % 2 === 0 ? { siteId: uuid(1), text: 'gate' } : {}),
      })),
    );
    expect(body.items.every(({ outcome }: { outcome: string }) => outcome === 'refused')).toBe(true);
  }
  expect((await kept()).n).toBe(1000);
}, 120_000);
