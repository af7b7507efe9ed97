import { createHash, randomUUID } from 'node:crypto';
import { beforeAll, describe, expect, test } from 'vitest';
import { runNight } from '../../src/actions/night/runNight.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { buildApp } from '../../src/http/app.js';
import { makeHouse } from '../../src/persistence/house.js';
import { openPool } from '../../src/persistence/pool.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

const send = (url: string, payload: object | string, headers: Record<string, string> = {}) =>
  t.call('dispatcher', {
    method: 'POST',
    url,
    payload,
    headers: typeof payload === 'string' ? { 'content-type': 'application/json', ...headers } : headers,
  });
const get = (url: string) => t.call('dispatcher', { method: 'GET', url });
const site = (more: object = {}) => ({ address: '1 Marsh Gate', town: 'Brindle', ...more });

async function made(url: string, payload: object): Promise<Json> {
  const answer = await send(url, payload);
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
}

describe('keys', () => {
  test('the text of a key is kept nowhere, and a repeated request does not tell it', async () => {
    const ask = () =>
      t.call('owner', {
        method: 'POST',
        url: '/v1/keys',
        payload: { name: 'Tern', roles: ['dispatcher'] },
        headers: { 'idempotency-key': 'key-of-tern' },
      });
    const first = await ask();
    expect(first.body.key).toMatch(/^ob_/);
    const again = await ask();
    expect(again.status).toBe(201);
    expect(again.body).toMatchObject({ id: first.body.id, key: null });
    const { rows } = await t.pool.query('SELECT body FROM idempotency_key WHERE key = $1', ['key-of-tern']);
    expect(rows[0].body).not.toContain(first.body.key);
  });

  test('the night forgets answers older than a day, and no ids, whatever a caller calls its key', async () => {
    const id = randomUUID();
    await made('/v1/sites', site({ id }));
    const system = await made('/v1/systems', { siteId: id, name: 'Yard', kind: 'gravity' });
    const line = await made('/v1/lines', {
      siteId: id,
      systemId: system.id,
      name: 'Drain',
      kind: 'yard_drain',
    });
    for (const observedAt of ['2026-03-01T12:00:00Z', '2026-06-01T12:00:00Z'])
      await made('/v1/inspections', {
        lineId: line.id,
        observedAt,
        phase: 'no_cleaning',
        reading: { method: 'camera', share: 0.2 },
      });
    for (const key of ['of-today', 'of-old', 'id:of-old'])
      expect((await send('/v1/clients', { name: 'A' }, { 'idempotency-key': key })).status).toBe(201);
    await t.pool.query(
      `UPDATE idempotency_key SET created_at = now() - interval '25 hours' WHERE key LIKE '%of-old' OR key = $1`,
      [`id:${id}`],
    );
    await runNight(t.house, { businessDay: '2026-10-01', askedBy: 'test', holder: 'test', routeSeconds: 1 });
    const { rows } = await t.pool.query('SELECT key FROM idempotency_key');
    const kept = rows.map((row) => row.key);
    expect(kept).toContain('of-today');
    expect(kept).toContain(`id:${id}`);
    expect(kept).not.toContain('of-old');
    expect(kept).not.toContain('id:of-old');
  });
});

describe('bodies', () => {
  test('an instant of any offset is kept in UTC', async () => {
    const crew = await made('/v1/crews', {
      name: 'Heron',
      depotId: (await made('/v1/depots', { name: 'Yard', latitude: 44, longitude: -90 })).id,
    });
    const absence = await made('/v1/absences', {
      crewId: crew.id,
      fromDay: '2026-01-01',
      toDay: '2026-01-01',
      fromAt: '2026-01-02T00:00:00+23:59',
      reason: 'course',
    });
    expect(absence.fromAt).toBe('2026-01-01T00:01:00.000Z');
    expect((await get('/v1/cleans?cleanedAtFrom=2026-01-01T00:00:00%2B23:59')).status).toBe(200);
  });

  test('an id in capitals is the same id', async () => {
    const id = randomUUID();
    const first = await made('/v1/sites', site({ id }));
    expect(await made('/v1/sites', site({ id: id.toUpperCase() }))).toEqual(first);
  });

  test('JSON nested deeper than any body of ours is refused, brackets in text are not counted', async () => {
    const deep = await send('/v1/sites', `{"address":${'['.repeat(50_000)}${']'.repeat(50_000)}}`);
    expect(deep.status).toBe(400);
    expect(deep.body.detail).toContain('deeper');
    await made('/v1/sites', site({ note: `"${'['.repeat(200)}\\` }));
  });

  test.each([
    ['not UTF-8', 'application/json', {}, 400],
    ['UTF-16', 'application/json; charset=utf-16', {}, 415],
    ['packed', 'application/json', { 'content-encoding': 'gzip' }, 415],
    ['text', 'text/plain', {}, 415],
  ])('a body that is %s is refused', async (_name, type, more, status) => {
    const payload = Buffer.from([...Buffer.from('{"name":"'), 0xff, ...Buffer.from('"}')]);
    const answer = await t.app.inject({
      method: 'POST',
      url: '/v1/clients',
      payload,
      headers: { authorization: `Bearer ${t.keys.dispatcher}`, 'content-type': type, ...more },
    });
    expect(answer.statusCode).toBe(status);
    expect(answer.headers['content-type']).toContain('application/problem+json');
  });

  test('an idempotency key is not cut: beyond 255 characters it is refused', async () => {
    const key = (length: number) => ({ 'idempotency-key': 'k'.repeat(length) });
    expect((await send('/v1/clients', { name: 'A' }, key(255))).status).toBe(201);
    const long = await send('/v1/clients', { name: 'B' }, key(256));
    expect(long.status).toBe(400);
    expect(long.body.errors[0].pointer).toBe('#/headers:idempotency-key');
  });
});

describe('cursors', () => {
  test('a cursor leads on in its own list only, and as it was written', async () => {
    for (let i = 0; i < 3; i++) await made('/v1/depots', { name: `D${i}`, latitude: 44, longitude: -90 });
    const { next } = (await get('/v1/depots?limit=1')).body;
    expect((await get(`/v1/depots?limit=1&cursor=${next}`)).status).toBe(200);
    for (const list of ['clients', 'reading-reviews', 'crews', 'work-orders', 'trends', 'plans']) {
      const other = await get(`/v1/${list}?limit=1&cursor=${next}`);
      expect(other.status, list).toBe(400);
      expect(other.body.errors[0].pointer).toBe('#/querystring:cursor');
    }
    // Behind the seal of 16 bytes stands what anybody can read, and nobody write.
    const bytes = Buffer.from(next, 'base64url');
    const [value, id, mark] = JSON.parse(bytes.subarray(16).toString());
    const edited = (place: unknown, seal = bytes.subarray(0, 16)) =>
      Buffer.concat([seal, Buffer.from(JSON.stringify(place))]).toString('base64url');
    expect(edited([value, id, mark])).toBe(next);
    for (const cursor of [
      edited(['no instant', id, mark]),
      edited([value, '019abcde-0000-7000-8000-000000000001', mark]),
      edited([value, id, mark], Buffer.alloc(16)),
      edited([value, id, mark], createHash('sha256').update(bytes.subarray(16)).digest().subarray(0, 16)),
      next.slice(0, 20),
      '%20',
    ]) {
      const { status, body } = await get(`/v1/depots?limit=1&cursor=${cursor}`);
      expect([status, body.type], cursor).toEqual([400, '/problems/bad-cursor']);
    }
  });

  test('a cursor of one instance leads on in another of the same base, and in none of another base', async () => {
    const { next } = (await get('/v1/depots?limit=1')).body;
    const headers = { authorization: `Bearer ${t.keys.owner}` };
    const url = `/v1/depots?limit=1&cursor=${next}`;
    const other = await buildApp(t.house, { checkAnswers: true, requestsPerMinute: 0 });
    expect((await other.inject({ url, headers })).statusCode).toBe(200);
    await t.pool.query('DELETE FROM house_secret');
    const stranger = await buildApp(t.house, { checkAnswers: true, requestsPerMinute: 0 });
    expect((await stranger.inject({ url, headers })).json()).toMatchObject({ type: '/problems/bad-cursor' });
  });

  test('a place in the changes beyond any number of ours is refused', async () => {
    const since = Buffer.from('9999999999999999999.1').toString('base64url');
    const answer = await get(`/v1/changes?since=${since}`);
    expect(answer.status).toBe(400);
    expect(answer.body.errors[0].pointer).toBe('#/querystring:since');
  });
});

describe('addresses', () => {
  test.each(['/v1/sites/%ff', `/v1/sites/${'a'.repeat(300)}`])(
    '%s is answered with a problem',
    async (url) => {
      const answer = await get(url);
      expect([400, 404]).toContain(answer.status);
      expect(answer.headers['content-type']).toContain('application/problem+json');
      expect(answer.body).toMatchObject({ status: answer.status });
      expect(answer.body.type).toMatch(/^\/problems\//);
    },
  );
});

describe('a database that is away', () => {
  test('reads and writes answer 503 and when to ask again', async () => {
    const pool = openPool('postgres://nobody@127.0.0.1:1/nothing');
    const house = makeHouse(pool, {
      clock: { now: () => new Date() },
      zone: businessZone('America/Chicago'),
      units: 'metric',
      currency: 'USD',
      version: '0.0.0-test',
    });
    const app = await buildApp(house, { requestsPerMinute: 0 });
    const answer = await app.inject({
      url: '/v1/sites',
      headers: { authorization: `Bearer ob_${'x'.repeat(43)}` },
    });
    expect(answer.statusCode).toBe(503);
    expect(answer.headers['retry-after']).toBe('5');
    expect(answer.json().type).toBe('/problems/unavailable');
    await expect(house.transact({ name: 'test' }, async () => undefined)).rejects.toMatchObject({
      problem: { code: 'unavailable' },
    });
    await expect(house.reads.accessKeys()).rejects.toMatchObject({ problem: { code: 'unavailable' } });
    await app.close();
    await pool.end();
  });

  test('a read that takes too long is busy, not our fault', async () => {
    const pool = openPool(t.url, { statementTimeoutMs: 200 });
    const holder = await t.pool.connect();
    await holder.query('BEGIN; LOCK TABLE depot IN ACCESS EXCLUSIVE MODE');
    const app = await buildApp(makeHouse(pool, t.house), { requestsPerMinute: 0 });
    const answer = await app.inject({
      url: '/v1/depots',
      headers: { authorization: `Bearer ${t.keys.dispatcher}` },
    });
    await holder.query('ROLLBACK');
    holder.release();
    expect(answer.statusCode).toBe(503);
    expect(answer.headers['retry-after']).toBe('5');
    await app.close();
    await pool.end();
  });
});

describe('the limit of requests', () => {
  test('counts by key however the header is written, and guesses and wrong addresses by where they come from', async () => {
    const app = await buildApp(t.house, { requestsPerMinute: 5 });
    const ask = async (authorization: string, url = '/v1/me') =>
      (await app.inject({ url, headers: { authorization } })).statusCode;
    for (let i = 0; i < 5; i++) expect(await ask(`Bearer ${t.keys.owner}`)).toBe(200);
    expect(await ask(`bearer  ${t.keys.owner}`)).toBe(429);
    expect(await ask(`Bearer ${t.keys.owner} z1`)).toBe(401);
    for (let i = 0; i < 4; i++) expect(await ask(`Bearer guess${i}`)).toBe(401);
    expect(await ask('Bearer guess9')).toBe(429);
    expect(await ask(`Bearer ${t.keys.dispatcher}`, '/nowhere')).toBe(404);
    expect(await ask('Bearer guess9', '/nowhere')).toBe(429);
    await app.close();
  });
});
