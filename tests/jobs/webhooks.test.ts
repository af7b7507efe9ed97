import { randomUUID } from 'node:crypto';
import { Webhook } from 'standardwebhooks';
import { beforeAll, beforeEach, expect, test } from 'vitest';
import type { Outgoing } from '../../src/actions/outgoing.js';
import { sendWebhook } from '../../src/actions/telling/sendWebhook.js';
import { tell } from '../../src/actions/telling/tell.js';
import { wakeOverdue } from '../../src/actions/telling/wakeOverdue.js';
import { buildApp } from '../../src/http/app.js';
import { outgoingCalls } from '../../src/outside/outgoing.js';
import { hurry, LOOPBACK, receiver, workPost } from '../setup/postHouse.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  const house = await testHouse();
  // Endpoints of the tests are on loopback, which the outgoing guard lets through only where it is told to.
  const app = await buildApp(house.house, {
    checkAnswers: true,
    requestsPerMinute: 0,
    refusesUrl: outgoingCalls({ allowed: LOOPBACK }).refuses,
  });
  await app.ready();
  t = {
    ...house,
    app,
    async call(role, options) {
      const answer = await app.inject({
        ...options,
        headers: { ...(role ? { authorization: `Bearer ${house.keys[role]}` } : {}), ...options.headers },
      });
      return {
        status: answer.statusCode,
        body: answer.body === '' ? null : answer.json(),
        headers: answer.headers,
        text: answer.body,
      };
    },
  };
}, 60_000);
// Each test hears of its own endpoints alone.
beforeEach(async () => {
  await t.pool.query('UPDATE webhook_endpoint SET archived_on = CURRENT_DATE');
});

const post = (url: string, payload?: object, role: 'owner' | 'integration' = 'owner') =>
  t.call(role, { method: 'POST', url, ...(payload ? { payload } : {}) });
async function endpoint(
  url: string,
  eventTypes: string[] = ['night_failed'],
  role: 'owner' | 'integration' = 'owner',
): Promise<Json> {
  const made = await post('/v1/webhook-endpoints', { url, eventTypes }, role);
  expect(made.status, made.text).toBe(201);
  return made.body;
}
const fail = (businessDay = '2026-10-01') =>
  t.house.transact({ name: 'test' }, (stores) =>
    tell(stores, {
      type: 'night_failed',
      subjectId: randomUUID(),
      once: randomUUID(),
      facts: { businessDay, because: 'the disc is full' },
    }),
  );
const deliveries = async (endpointId: string): Promise<Json[]> =>
  (await t.call('owner', { method: 'GET', url: `/v1/webhook-deliveries?endpointId=${endpointId}` })).body
    .items;
const only = async (endpointId: string): Promise<Json> => {
  const all = await deliveries(endpointId);
  expect(all).toHaveLength(1);
  return all[0];
};

test('an event comes signed as Standard Webhooks says, to those who asked for its type alone', async () => {
  const { url, got } = await receiver();
  const other = await receiver();
  const { id, secret } = await endpoint(url);
  await endpoint(other.url, ['work_finished']);
  await fail();
  await workPost(t);
  expect(other.got).toEqual([]);
  expect(got).toHaveLength(1);
  const [received] = got;
  const payload = new Webhook(secret).verify(received?.body ?? '', received?.headers ?? {}) as Json;
  expect(payload).toMatchObject({
    type: 'night_failed',
    data: {
      text: 'The nightly run of 2026-10-01 failed: the disc is full.',
      facts: { businessDay: '2026-10-01' },
    },
  });
  expect(received?.headers['webhook-id']).toBe(payload.data.id);
  expect(Math.abs(Number(received?.headers['webhook-timestamp']) - Date.now() / 1000)).toBeLessThan(60);
  // Any other secret, or one byte more, is refused.
  expect(() =>
    new Webhook(`whsec_${Buffer.alloc(32).toString('base64')}`).verify(
      received?.body ?? '',
      received?.headers ?? {},
    ),
  ).toThrow();
  expect(() => new Webhook(secret).verify(`${received?.body} `, received?.headers ?? {})).toThrow();
  expect(await only(id)).toMatchObject({ state: 'delivered', tries: 1, lastStatus: 204, lastError: null });
  await workPost(t);
  expect(got).toHaveLength(1);
});

test('the secret is shown once', async () => {
  const { id } = await endpoint('https://hooks.example.org/a');
  const shown = await t.call('owner', { method: 'GET', url: `/v1/webhook-endpoints/${id}` });
  expect(shown.text).not.toContain('whsec_');
  expect((await t.call('owner', { method: 'GET', url: '/v1/webhook-endpoints' })).text).not.toContain(
    'whsec_',
  );
  const payload = { url: 'https://hooks.example.org/b', eventTypes: ['incident'] };
  const headers = { 'idempotency-key': 'once' };
  const first = await t.call('owner', { method: 'POST', url: '/v1/webhook-endpoints', payload, headers });
  expect(first.body.secret).toMatch(/^whsec_[A-Za-z0-9+/]{43}=$/);
  const again = await t.call('owner', { method: 'POST', url: '/v1/webhook-endpoints', payload, headers });
  expect(again.body).toEqual({ ...first.body, secret: null });
});

test('after a rotation both secrets verify for a day, then the new one alone', async () => {
  const { url, got } = await receiver();
  const made = await endpoint(url);
  const { body: rotated } = await post(`/v1/webhook-endpoints/${made.id}/secret-rotation`);
  expect(rotated.secret).not.toBe(made.secret);
  await fail();
  await workPost(t);
  for (const secret of [made.secret, rotated.secret])
    new Webhook(secret).verify(got[0]?.body ?? '', got[0]?.headers ?? {});
  await t.pool.query(
    `UPDATE webhook_endpoint SET old_secret_until = now() - interval '1 second' WHERE id = $1`,
    [made.id],
  );
  await fail();
  await workPost(t);
  new Webhook(rotated.secret).verify(got[1]?.body ?? '', got[1]?.headers ?? {});
  expect(() => new Webhook(made.secret).verify(got[1]?.body ?? '', got[1]?.headers ?? {})).toThrow();
});

test('what fails comes again with the same id and body, later and later, until it is taken', async () => {
  let busy = 2;
  const { url, got } = await receiver((_, response) => response.writeHead(busy-- > 0 ? 503 : 200).end('ok'));
  const { id, secret } = await endpoint(url);
  await fail();
  await workPost(t);
  const waiting = await only(id);
  expect(waiting).toMatchObject({
    state: 'waiting',
    tries: 1,
    lastStatus: 503,
    lastError: 'it answered 503',
  });
  // 5 s, a fifth left to chance.
  const wait = (Date.parse(waiting.nextTryAt) - Date.parse(waiting.lastTriedAt)) / 1000;
  expect(wait).toBeGreaterThan(3.9);
  expect(wait).toBeLessThan(8);
  await workPost(t);
  expect(got).toHaveLength(1);
  const [failing] = (await t.call('owner', { method: 'GET', url: '/v1/webhook-endpoints' })).body.items;
  expect(failing.failingSince).not.toBeNull();
  await hurry(t);
  await workPost(t);
  await hurry(t);
  await workPost(t);
  expect(got).toHaveLength(3);
  expect(new Set(got.map(({ headers }) => headers['webhook-id'])).size).toBe(1);
  expect(new Set(got.map(({ body }) => body)).size).toBe(1);
  for (const { body, headers } of got) new Webhook(secret).verify(body, headers);
  expect(await only(id)).toMatchObject({ state: 'delivered', tries: 3 });
  const [well] = (await t.call('owner', { method: 'GET', url: '/v1/webhook-endpoints' })).body.items;
  expect(well.failingSince).toBeNull();
});

test('Retry-After is honoured where it asks for more', async () => {
  const { url } = await receiver((_, response) => response.writeHead(429, { 'retry-after': '3600' }).end());
  const { id } = await endpoint(url);
  await fail();
  await workPost(t);
  const { nextTryAt } = await only(id);
  expect((Date.parse(nextTryAt) - Date.now()) / 1000).toBeGreaterThan(3500);
});

test('a redirect is a failure and not followed', async () => {
  const inside = await receiver();
  const { url } = await receiver((_, response) => response.writeHead(307, { location: inside.url }).end());
  const { id } = await endpoint(url);
  await fail();
  await workPost(t);
  expect(await only(id)).toMatchObject({
    state: 'waiting',
    lastStatus: 307,
    lastError: expect.stringContaining('not followed'),
  });
  expect(inside.got).toEqual([]);
});

test('410 switches the endpoint off, says so, and what waits for it ends', async () => {
  const { url, got } = await receiver((_, response) => response.writeHead(410).end());
  const watcher = await receiver();
  const { id } = await endpoint(url);
  await endpoint(watcher.url, ['webhook_disabled']);
  await fail();
  await fail();
  await workPost(t);
  const { body } = await t.call('owner', { method: 'GET', url: `/v1/webhook-endpoints/${id}` });
  expect(body).toMatchObject({ enabled: false, disabledBecause: 'it answered 410: it is gone for good' });
  expect((await deliveries(id)).map(({ state }) => state)).toEqual(['failed', 'failed']);
  expect(watcher.got).toHaveLength(1);
  expect(JSON.parse(watcher.got[0]?.body ?? '{}').data.text).toContain('was switched off: it answered 410');
  const calls = got.length;
  await fail();
  await workPost(t);
  expect(got).toHaveLength(calls);
  // Switched on again it hears of what happens from then on.
  const etag = `"${body.version}"`;
  const on = await t.call('owner', {
    method: 'PATCH',
    url: `/v1/webhook-endpoints/${id}`,
    payload: { enabled: true },
    headers: { 'if-match': etag },
  });
  expect(on.body).toMatchObject({ enabled: true, disabledBecause: null });
  await fail();
  await workPost(t);
  expect(got.length).toBeGreaterThan(calls);
});

test('five days of nothing but failures switch it off', async () => {
  const { url } = await receiver((_, response) => response.writeHead(500).end());
  const { id } = await endpoint(url);
  await t.pool.query(
    `UPDATE webhook_endpoint SET failing_since = now() - interval '4 days 23 hours' WHERE id = $1`,
    [id],
  );
  await fail();
  await workPost(t);
  const enabled = async () =>
    (await t.call('owner', { method: 'GET', url: `/v1/webhook-endpoints/${id}` })).body;
  expect((await enabled()).enabled).toBe(true);
  await t.pool.query(
    `UPDATE webhook_endpoint SET failing_since = now() - interval '5 days 1 minute' WHERE id = $1`,
    [id],
  );
  await hurry(t);
  await workPost(t);
  expect(await enabled()).toMatchObject({
    enabled: false,
    disabledBecause: expect.stringContaining('failed for 5 days'),
  });
});

test('after its last try a delivery has failed; a person replays it, with the same id', async () => {
  let down = true;
  const { url, got } = await receiver((_, response) => response.writeHead(down ? 500 : 200).end());
  const { id } = await endpoint(url);
  await fail();
  for (let i = 0; i < 12; i++) {
    await workPost(t);
    await hurry(t);
  }
  const dead = await only(id);
  expect(dead).toMatchObject({ state: 'failed', tries: 10, nextTryAt: null });
  expect(got).toHaveLength(10);
  down = false;
  const replayed = await post(`/v1/webhook-deliveries/${dead.id}/replay`);
  expect(replayed).toMatchObject({ status: 202, body: { state: 'waiting', tries: 0 } });
  await workPost(t);
  expect(await only(id)).toMatchObject({ state: 'delivered', tries: 1 });
  expect(new Set(got.map(({ headers }) => headers['webhook-id'])).size).toBe(1);
  expect((await post(`/v1/webhook-deliveries/${randomUUID()}/replay`)).status).toBe(404);
});

test('killed between sending and writing down: it comes again with the same id, and is written down', async () => {
  const { url, got } = await receiver();
  const { id } = await endpoint(url);
  await fail();
  // Everything up to the answer happens; then the process is gone.
  const real = outgoingCalls({ allowed: LOOPBACK });
  const dying: Outgoing = {
    ...real,
    async call(ask) {
      await real.call(ask);
      throw new Error('killed');
    },
  };
  await workPost(t, { outgoing: dying });
  expect(got).toHaveLength(1);
  expect(await only(id)).toMatchObject({ state: 'waiting', tries: 1 });
  // Its lease holds others off; its job died with it. Then the lease is over, and the watch finds it.
  await t.pool.query('DELETE FROM graphile_worker._private_jobs');
  expect(await wakeOverdue(t.house)).toMatchObject({ deliveries: 0 });
  await t.pool.query(
    `UPDATE webhook_delivery SET next_try_at = now() - interval '2 minutes', lease_until = now() - interval '1 minute' WHERE endpoint_id = $1`,
    [id],
  );
  expect(await wakeOverdue(t.house)).toMatchObject({ deliveries: 1 });
  await workPost(t);
  expect(got).toHaveLength(2);
  expect(got[0]?.headers['webhook-id']).toBe(got[1]?.headers['webhook-id']);
  expect(got[0]?.body).toBe(got[1]?.body);
  expect(await only(id)).toMatchObject({ state: 'delivered', tries: 2 });
});

test('an event whose job was lost is handed on all the same, once', async () => {
  const { url, got } = await receiver();
  await endpoint(url);
  await workPost(t);
  await fail();
  await t.pool.query('DELETE FROM graphile_worker._private_jobs');
  await t.pool.query(
    `UPDATE event SET created_at = created_at - interval '1 minute' WHERE posted_at IS NULL`,
  );
  await t.pool.query(`UPDATE webhook_endpoint SET created_at = created_at - interval '2 minutes'`);
  expect((await wakeOverdue(t.house)).events).toBe(1);
  await wakeOverdue(t.house);
  await workPost(t);
  expect(got).toHaveLength(1);
  expect((await wakeOverdue(t.house)).events).toBe(0);
});

test('an address inside is refused when it is named, and when its name leads there', async () => {
  for (const url of [
    'http://example.org/',
    'https://10.0.0.1/',
    'https://[::1]/',
    'https://a:b@example.org/',
    'https://example.org:22/',
    'https://example.org:0/',
  ]) {
    const refused = await post('/v1/webhook-endpoints', { url, eventTypes: ['incident'] });
    expect(refused, url).toMatchObject({ status: 422, body: { errors: [{ pointer: '#/url' }] } });
  }
  // A name inside and one that nobody has look alike to whoever keeps the endpoint; the owner is told which it is.
  const inside = await endpoint('https://inside.example.org/', ['night_failed'], 'integration');
  const nobody = await endpoint('https://nobody.example.org/', ['night_failed'], 'integration');
  await fail();
  await workPost(t, {
    outgoing: outgoingCalls({
      allowed: LOOPBACK,
      resolve: async (host) => {
        if (host === 'nobody.example.org') throw new Error('ENOTFOUND');
        return [{ address: '10.0.0.7', family: 4 }];
      },
    }),
  });
  const seen = async (role: 'owner' | 'integration', { id }: Json): Promise<Json> => {
    const url = `/v1/webhook-deliveries?endpointId=${id}`;
    const {
      id: _id,
      eventId,
      endpointId,
      nextTryAt,
      lastTriedAt,
      createdAt,
      ...rest
    } = (await t.call(role, { method: 'GET', url })).body.items[0];
    return rest;
  };
  expect(await seen('integration', inside)).toEqual({
    state: 'waiting',
    tries: 1,
    lastStatus: null,
    lastError: 'its name leads to no address on the internet',
    lastReason: null,
    deliveredAt: null,
  });
  expect(await seen('integration', nobody)).toEqual(await seen('integration', inside));
  expect((await seen('owner', inside)).lastReason).toMatch(
    /^inside.example.org leads to an address that is private/,
  );
  expect((await seen('owner', inside)).lastReason).not.toContain('10.0.0.7');
  expect((await seen('owner', nobody)).lastReason).toBe('nobody.example.org has no address');
});

test('an address is kept as it is called, whatever signs it came with', async () => {
  const { url } = await endpoint('https://Hooks.Example.org\\@127.0.0.1/\r\nX: y', ['incident']);
  expect(url).toBe('https://hooks.example.org/@127.0.0.1/X:%20y');
  expect((await endpoint('https://hooks.example.org', ['incident'])).url).toBe('https://hooks.example.org/');
});

test('an address kept as it was once written, sent back, is not moved', async () => {
  const { id, url } = await endpoint('https://hooks.example.org', ['incident'], 'integration');
  await t.pool.query('UPDATE webhook_endpoint SET url = $2 WHERE id = $1', [id, 'https://hooks.example.org']);
  const patch = (to: string) =>
    t.call('integration', {
      method: 'PATCH',
      url: `/v1/webhook-endpoints/${id}`,
      payload: { url: to },
      headers: { 'if-match': '*' },
    });
  const moved = async () =>
    (await t.pool.query(`SELECT FROM event WHERE kind = 'webhook_moved' AND subject_id = $1`, [id])).rowCount;
  for (const same of ['https://hooks.example.org', url]) expect((await patch(same)).body.secret).toBeNull();
  expect(await moved()).toBe(0);
  expect((await patch('https://hooks.example.org/b')).body.secret).not.toBeNull();
  expect(await moved()).toBe(1);
});

test('a test event goes to the endpoint it was asked for', async () => {
  const [mine, other] = [await receiver(), await receiver()];
  const { id } = await endpoint(mine.url, ['incident']);
  await endpoint(other.url, ['incident']);
  const sent = await post(`/v1/webhook-endpoints/${id}/test-event`);
  expect(sent.status).toBe(202);
  await workPost(t);
  expect(JSON.parse(mine.got[0]?.body ?? '{}')).toMatchObject({ type: 'webhook_test' });
  expect(mine.got).toHaveLength(1);
  expect(other.got).toEqual([]);
});

test('endpoints are changed by version, removed, and kept by owners and integrations alone', async () => {
  const { id } = await endpoint('https://hooks.example.org/a', ['night_failed'], 'integration');
  const url = `/v1/webhook-endpoints/${id}`;
  const patch = (payload: object, headers: Record<string, string>) =>
    t.call('integration', { method: 'PATCH', url, payload, headers });
  expect((await patch({ note: 'x' }, {})).status).toBe(428);
  expect((await patch({ note: 'x' }, { 'if-match': '"9"' })).status).toBe(412);
  const changed = await patch({ eventTypes: ['incident'], note: 'ours' }, { 'if-match': '"1"' });
  expect(changed.body).toMatchObject({ eventTypes: ['incident'], note: 'ours', version: 2 });
  expect((await patch({ url: 'http://127.0.0.2/' }, { 'if-match': '"2"' })).status).toBe(422);
  expect((await patch({ eventTypes: ['webhook_test'] }, { 'if-match': '"2"' })).status).toBe(400);
  expect((await t.call('dispatcher', { method: 'GET', url })).status).toBe(403);
  expect((await t.call('technician', { method: 'GET', url: '/v1/webhook-deliveries' })).status).toBe(403);
  expect((await t.call('owner', { method: 'DELETE', url })).status).toBe(204);
  expect((await t.call('owner', { method: 'GET', url })).status).toBe(404);
  expect((await post(`${url}/test-event`)).status).toBe(404);
});

test('an endpoint belongs to the key that made it: another integration finds nothing there', async () => {
  const mine = await endpoint('https://hooks.example.org/mine', ['incident'], 'integration');
  const made = await post('/v1/keys', { name: 'another app', roles: ['integration'] });
  expect(made.status, made.text).toBe(201);
  const other = (method: 'GET' | 'PATCH' | 'DELETE' | 'POST', url: string, payload?: object) =>
    t.call(null, {
      method,
      url,
      headers: { authorization: `Bearer ${made.body.key}`, 'if-match': '*' },
      ...(payload ? { payload } : {}),
    });
  const url = `/v1/webhook-endpoints/${mine.id}`;
  const test = await post(`${url}/test-event`, undefined, 'integration');
  const refused = [
    await other('GET', url),
    await other('PATCH', url, { url: 'https://elsewhere.example.org/' }),
    await other('DELETE', url),
    await other('POST', `${url}/secret-rotation`),
    await other('POST', `${url}/test-event`),
    await other('POST', `/v1/webhook-deliveries/${test.body.id}/replay`),
  ];
  expect(refused.map(({ status }) => status)).toEqual([404, 404, 404, 404, 404, 404]);
  expect((await other('GET', '/v1/webhook-endpoints')).body.items).toEqual([]);
  expect((await other('GET', '/v1/webhook-deliveries')).body.items).toEqual([]);
  const again = { id: mine.id, url: mine.url, eventTypes: ['incident'] };
  expect((await other('POST', '/v1/webhook-endpoints', again)).status).toBe(409);
  // Its maker and the owner see it as it was.
  const seen = await t.call('integration', { method: 'GET', url: '/v1/webhook-endpoints' });
  expect(seen.body.items.map(({ id }: Json) => id)).toEqual([mine.id]);
  expect((await t.call('owner', { method: 'GET', url })).body).toMatchObject({ url: mine.url, version: 1 });
  expect(await deliveries(mine.id)).toHaveLength(1);

  // Of what happens to it they alone read.
  const [{ id: eventId }] = (
    await t.pool.query(`SELECT id FROM event WHERE kind = 'webhook_test' AND subject_id = $1`, [mine.id])
  ).rows;
  const read = [
    await other('GET', `/v1/events/${eventId}`),
    await t.call('dispatcher', { method: 'GET', url: `/v1/events/${eventId}` }),
    await t.call('integration', { method: 'GET', url: `/v1/events/${eventId}` }),
    await t.call('owner', { method: 'GET', url: `/v1/events/${eventId}` }),
  ];
  expect(read.map(({ status }) => status)).toEqual([404, 404, 200, 200]);
  expect((await other('GET', '/v1/events?type=webhook_test')).body.items).toEqual([]);
  const own = await t.call('integration', { method: 'GET', url: '/v1/events?type=webhook_test' });
  expect(own.body.items.map(({ id }: Json) => id)).toEqual([eventId]);

  // The owner gives it to another key; nobody else may.
  const give = (role: 'owner' | 'integration', keyId: string | null) =>
    t.call(role, { method: 'PATCH', url, headers: { 'if-match': '*' }, payload: { keyId } });
  expect((await give('integration', null)).status).toBe(403);
  const technician = await t.pool.query(`SELECT id FROM access_key WHERE 'technician' = ANY (roles)`);
  expect((await give('owner', technician.rows[0].id)).body.errors).toMatchObject([{ pointer: '#/keyId' }]);
  expect((await give('owner', made.body.id)).body).toMatchObject({ holderId: made.body.id, secret: null });
  expect((await other('GET', url)).status).toBe(200);
  expect((await t.call('integration', { method: 'GET', url })).status).toBe(404);
  // As endpoints are that were made before they had holders.
  expect((await give('owner', null)).body.holderId).toBeNull();
  expect((await other('GET', url)).status).toBe(404);
});

test('a revoked key hears nothing more, and another integration nothing of what happens to an endpoint', async () => {
  const [kept, revoked, later] = [await receiver(), await receiver(), await receiver()];
  await workPost(t);
  await endpoint(kept.url, ['night_failed', 'webhook_moved', 'webhook_made'], 'integration');
  await workPost(t);
  // Of what it keeps itself it hears, its own beginning first.
  expect(kept.got.splice(0).map(({ body }) => JSON.parse(body).type)).toEqual(['webhook_made']);
  const made = await post('/v1/keys', { name: 'lost app', roles: ['integration'] });
  const other = (method: 'PATCH' | 'POST', url: string, payload: object) =>
    t.call(null, {
      method,
      url,
      headers: { authorization: `Bearer ${made.body.key}`, 'if-match': '*' },
      payload,
    });
  const its = await other('POST', '/v1/webhook-endpoints', {
    url: revoked.url,
    eventTypes: ['night_failed'],
  });
  expect(its.status, its.text).toBe(201);
  // Made and moved, it is told to owners, not to the other integration.
  expect((await other('PATCH', `/v1/webhook-endpoints/${its.body.id}`, { url: later.url })).status).toBe(200);
  await fail('2026-10-02');
  await workPost(t);
  expect([kept.got.length, later.got.length, revoked.got.length]).toEqual([1, 1, 0]);

  // What waits when the key is revoked is not sent either.
  await fail('2026-10-03');
  expect((await post(`/v1/keys/${made.body.id}/revocation`)).status).toBe(200);
  await workPost(t);
  expect([kept.got.length, later.got.length]).toEqual([2, 1]);
  const { rows } = await t.pool.query(
    `INSERT INTO webhook_delivery (id, event_id, endpoint_id)
     SELECT gen_random_uuid(), id, $1 FROM event WHERE kind = 'night_failed' AND facts->>'businessDay' = '2026-10-03' RETURNING id`,
    [its.body.id],
  );
  await sendWebhook(t.house, outgoingCalls({ allowed: LOOPBACK }), rows[0].id);
  expect(later.got).toHaveLength(1);
  expect((await deliveries(its.body.id)).find(({ id }) => id === rows[0].id)).toMatchObject({
    state: 'failed',
    lastError: expect.stringContaining('no good key'),
  });
});

test('sent elsewhere, an endpoint gets a new secret, the old one signs no more, and it is told', async () => {
  const [before, after, watcher] = [await receiver(), await receiver(), await receiver()];
  await endpoint(watcher.url, ['webhook_moved']);
  const { id, secret } = await endpoint(before.url, ['night_failed'], 'integration');
  const patch = (payload: object) =>
    t.call('integration', {
      method: 'PATCH',
      url: `/v1/webhook-endpoints/${id}`,
      payload,
      headers: { 'if-match': '*' },
    });
  expect((await patch({ url: before.url, note: 'the same address' })).body.secret).toBeNull();
  await post(`/v1/webhook-endpoints/${id}/secret-rotation`, undefined, 'integration');
  const moved = await patch({ url: after.url });
  expect(moved.body).toMatchObject({ url: after.url, oldSecretUntil: null });
  await fail();
  await workPost(t);
  expect(before.got).toEqual([]);
  const [{ body, headers }] = after.got as [{ body: string; headers: Record<string, string> }];
  expect(headers['webhook-signature']?.split(' ')).toHaveLength(1);
  expect(() => new Webhook(moved.body.secret).verify(body, headers)).not.toThrow();
  expect(() => new Webhook(secret).verify(body, headers)).toThrow();
  const [told] = watcher.got.map((each) => JSON.parse(each.body));
  const host = (url: string) => new URL(url).host;
  expect(told.data).toMatchObject({
    facts: { fromHost: host(before.url), toHost: host(after.url), by: 'integration' },
    subjectId: id,
  });
  expect(watcher.got).toHaveLength(1);
});
