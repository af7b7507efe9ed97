import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { buildApp } from '../../src/http/app.js';
import { SENT_AT, type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';

let t: SyncedHouse;
beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const makeKey = (more: object) =>
  t.call('owner', {
    method: 'POST',
    url: '/v1/keys',
    payload: { name: 'phone', roles: ['technician'], ...more },
  });
/** Keys are believed for five seconds. */
const later = () => {
  t.clock.at = new Date(t.clock.at.getTime() + 6000);
};
const leave = () => t.house.stores.rows.update('member', t.memberId, { archived_on: '2026-10-01' });

test('who has left comes in no more, with any key', async () => {
  const keys = [t.key, await t.keyOf('tablet')];
  for (const key of keys) expect((await t.as(key, 'GET', '/v1/me')).status).toBe(200);
  await leave();
  later();
  for (const key of keys) expect((await t.as(key, 'GET', '/v1/routes?day=2026-10-01')).status).toBe(401);
  expect((await makeKey({ memberId: t.memberId })).body.errors).toMatchObject([
    { pointer: '#/memberId', detail: 'Tern has left' },
  ]);
});

test('a technician’s key is somebody’s, ends in time to come, and names each role once', async () => {
  const pointers = async (more: object) => {
    const { status, body } = await makeKey(more);
    return [status, body.errors?.[0]?.pointer];
  };
  expect(await pointers({})).toEqual([422, '#/memberId']);
  expect(await pointers({ memberId: t.memberId, expiresAt: SENT_AT })).toEqual([422, '#/expiresAt']);
  expect(await pointers({ roles: ['owner', 'owner'] })).toEqual([400, '#/roles']);
  expect(await pointers({ memberId: t.memberId, expiresAt: '2026-10-02T00:00:00Z' })).toEqual([
    201,
    undefined,
  ]);
});

const end = () => ({
  kind: 'finish',
  id: randomUUID(),
  at: '2026-10-01T14:30:00Z',
  after: [] as string[],
  workOrderId: t.orderId,
  result: 'not_done',
  reason: 'no_one_home',
});
const start = () =>
  t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${t.orderId}/start`,
    payload: { startedAt: '2026-10-01T14:00:00Z', cautionsSeen: true },
  });
const orderState = async () => (await t.house.stores.rows.get('work_order', t.orderId))?.['state'];
const itemOf = (id: string) => t.house.stores.rows.get('sync_item', id);

const GONE: [string, () => Promise<unknown>][] = [
  [
    'was revoked',
    async () => {
      const [key] = await t.house.stores.rows.all('access_key', [{ column: 'name', is: '=', value: 'Tern' }]);
      return t.call('owner', { method: 'POST', url: `/v1/keys/${String(key?.['id'])}/revocation` });
    },
  ],
  [
    'ran out',
    async () => {
      const [key] = await t.house.stores.rows.all('access_key', [{ column: 'name', is: '=', value: 'Tern' }]);
      return t.house.stores.rows.update('access_key', String(key?.['id']), {
        expires_at: '2020-01-01T00:00:00Z',
      });
    },
  ],
  ['is of a person who has left', leave],
];
test.each(GONE)(
  'what waits is not done when its turn comes if its key %s: the office looks at it',
  async (_how, go) => {
    const item = end();
    expect((await t.sync([item]))[0].outcome).toBe('waiting');
    await go();
    expect((await start()).status).toBe(200);
    expect(await orderState()).toBe('under_way');
    expect(await itemOf(item.id)).toMatchObject({ state: 'conflict' });
    const { body } = await t.call('owner', { method: 'GET', url: `/v1/conflicts?resourceId=${t.orderId}` });
    expect(body.items).toMatchObject([
      { id: item.id, author: 'Tern', because: expect.stringContaining('revoked') },
    ]);
  },
);

test('nor is it done by the person’s new phone; what that one sent itself is', async () => {
  const item = end();
  await t.sync([item]);
  await (GONE[0] as (typeof GONE)[number])[1]();
  const phone = await t.keyOf('new phone');
  const own = { ...end(), id: randomUUID() };
  const begun = { kind: 'start', id: randomUUID(), at: '2026-10-01T14:00:00Z', workOrderId: t.orderId };
  const { body } = await t.as(phone, 'POST', '/v1/sync', { sentAt: SENT_AT, items: [begun, own] });
  expect(body.items.map(({ outcome }: { outcome: string }) => outcome)).toEqual(['accepted', 'accepted']);
  expect(await itemOf(item.id)).toMatchObject({ state: 'conflict' });
});

test('what waits is done by the key as it stands when its turn comes', async () => {
  const item = end();
  await t.sync([item]);
  expect((await start()).status).toBe(200);
  expect(await itemOf(item.id)).toMatchObject({ state: 'accepted' });
});

test('guesses take nothing from watchers, calendars, unsubscribers and keys that were good before, and cost no look-up in the end', async () => {
  const looked: string[] = [];
  const keys = {
    ...t.house.stores.keys,
    actorByHash: (hash: Buffer) => {
      looked.push(hash.toString('hex'));
      return t.house.stores.keys.actorByHash(hash);
    },
  };
  const app = await buildApp({ ...t.house, stores: { ...t.house.stores, keys } }, { requestsPerMinute: 5 });
  const get = async (url: string, key?: string) =>
    (
      await app.inject({
        method: 'GET',
        url,
        headers: key === undefined ? {} : { authorization: `Bearer ${key}` },
      })
    ).statusCode;
  expect(await get('/v1/me', t.key)).toBe(200);
  looked.length = 0;
  const guess = (i: number) => `ob_${String(i).padStart(43, 'x')}`;
  const statuses: number[] = [];
  for (let i = 0; i < 20; i++) statuses.push(await get('/v1/me', guess(i)));
  expect(statuses).toEqual([...Array(5).fill(401), ...Array(15).fill(429)]);
  expect(looked).toHaveLength(5);
  // Not of the form of a key: nobody is asked.
  await get('/v1/me', 'hush');
  expect(looked).toHaveLength(5);
  later();
  expect(await get('/v1/me', t.key)).toBe(200);
  expect(looked).toHaveLength(6);
  expect(await get('/feeds/x/calendar.ics')).toBe(404);
  expect(await get('/unsubscribe/x')).toBe(404);
  for (let i = 0; i < 10; i++) expect(await get('/health')).toBe(200);
  expect(await get('/ready')).toBe(200);
  // Without any key the address counts, apart from its guesses.
  expect(await get('/v1/me')).toBe(401);
  await app.close();
});

test('a page that loads nothing says that it may load nothing', async () => {
  const { headers } = await t.app.inject({ method: 'GET', url: '/unsubscribe/x' });
  expect(headers['content-security-policy']).toContain("default-src 'none'");
});

test('a proxy’s word on who called is believed where a setting names it', async () => {
  for (const [trustedProxy, expected] of [
    [undefined, [401, 401, 429]],
    ['127.0.0.1', [401, 401, 401]],
    ['10.9.0.0/16', [401, 401, 429]],
  ] as const) {
    const app = await buildApp(t.house, { requestsPerMinute: 2, ...(trustedProxy ? { trustedProxy } : {}) });
    const statuses: number[] = [];
    for (const address of ['203.0.113.1', '203.0.113.2', '203.0.113.3']) {
      const { statusCode } = await app.inject({
        method: 'GET',
        url: '/v1/me',
        headers: { 'x-forwarded-for': address },
      });
      statuses.push(statusCode);
    }
    expect(statuses).toEqual(expected);
    await app.close();
  }
});
