import { randomUUID } from 'node:crypto';
import ICAL from 'ical.js';
import { beforeAll, expect, test } from 'vitest';
import { publishDay } from '../../src/actions/desk/publishing.js';
import { buildApp } from '../../src/http/app.js';
import { loggedRequest } from '../../src/http/loggedRequest.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeAll(async () => {
  t = await plannedHouse();
}, 60_000);

const feed = async (payload: object): Promise<{ id: string; path: string }> => {
  const made = await t.call('dispatcher', { method: 'POST', url: '/v1/feeds', payload });
  expect(made.status, made.text).toBe(201);
  expect(made.body.url).toMatch(/^\/feeds\/[\w-]{43}\/calendar\.ics$/);
  return { id: made.body.id, path: made.body.url };
};
const read = (path: string, headers: Record<string, string> = {}) =>
  t.call(null, { method: 'GET', url: path, headers });

/** Read by another author's parser, in its strict mode. */
async function events(path: string) {
  const { text, headers, status } = await read(path);
  expect(status).toBe(200);
  expect(headers['content-type']).toBe('text/calendar; charset=utf-8');
  for (const line of text.split('\r\n')) expect(Buffer.byteLength(line), line).toBeLessThanOrEqual(75);
  expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
  const calendar = new ICAL.Component(ICAL.parse(text));
  expect(calendar.getFirstPropertyValue('version')).toBe('2.0');
  return calendar.getAllSubcomponents('vevent').map((each) => {
    const event = new ICAL.Event(each);
    return {
      uid: event.uid,
      sequence: Number(each.getFirstPropertyValue('sequence')),
      status: each.getFirstPropertyValue('status'),
      start: event.startDate.isDate ? event.startDate.toString() : event.startDate.toJSDate().toISOString(),
      end: event.endDate.isDate ? event.endDate.toString() : event.endDate.toJSDate().toISOString(),
      summary: event.summary,
      location: event.location,
      description: event.description,
    };
  });
}
const withdraw = (order: string) =>
  t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${order}/withdrawal`,
    payload: { because: 'sold' },
  });
const siteOf = async (order: string) =>
  String((await t.house.stores.rows.get('work_order', order))?.['site_id']);

test("a crew's calendar holds its stops: planned, told, begun, done; what goes is cancelled and stays", async () => {
  const crewId = t.crews.heron;
  const row = { lock_day: THURSDAY, lock_crew_id: crewId };
  const kept = await t.order({ east: 1, north: 7, task: 'inspect', row });
  const gone = await t.order({ east: 2, north: 7, task: 'inspect', row });
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id);
  const { path } = await feed({ name: "Heron's phone", crewId });
  const planned = await events(path);
  expect(planned).toHaveLength(2);
  expect(planned.every(({ status, sequence }) => status === 'TENTATIVE' && sequence === 0)).toBe(true);
  expect(planned.find(({ uid }) => uid.startsWith(kept))).toMatchObject({
    location: '1 Marsh Gate, Brindle',
  });

  await t.house.transact({ name: 'office' }, (stores) => publishDay(t.house, stores, 'office', THURSDAY));
  const told = await events(path);
  expect(told.every(({ status, sequence }) => status === 'CONFIRMED' && sequence === 1)).toBe(true);
  expect(told.map(({ uid }) => uid).sort()).toEqual(planned.map(({ uid }) => uid).sort());

  t.clock.at = new Date('2026-10-01T16:00:00Z');
  const post = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });
  await post(`/v1/work-orders/${kept}/start`, { startedAt: '2026-10-01T14:00:00Z', cautionsSeen: true });
  const ended = {
    endedAt: '2026-10-01T14:45:00Z',
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'none' },
  };
  expect((await post(`/v1/work-orders/${kept}/finish`, ended)).status).toBe(200);
  const done = (await events(path)).find(({ uid }) => uid.startsWith(kept));
  expect(done).toMatchObject({
    start: '2026-10-01T14:00:00.000Z',
    end: '2026-10-01T14:45:00.000Z',
    sequence: 2,
  });
  expect(done?.summary).toContain('done');

  await withdraw(gone);
  const off = (await events(path)).find(({ uid }) => uid.startsWith(gone));
  expect(off).toMatchObject({ status: 'CANCELLED', sequence: 2 });
});

test("a site's calendar holds what is promised, with its window, and what was done, and keeps what was called off", async () => {
  const order = await t.order({ east: 5, north: 5, task: 'inspect' });
  const site = await siteOf(order);
  await t.house.stores.rows.update('site', site, {
    address: '5 Größe Gate; rear, left',
    access_notes: 'gate key under the heron',
  });
  const { path } = await feed({ name: 'A. Reed', siteId: site });
  expect(await events(path)).toEqual([]);
  await t.promise(order, FRIDAY, '08:00', '10:00');
  const [promised] = await events(path);
  // 8:00 in Chicago is 13:00 UTC.
  expect(promised).toMatchObject({
    status: 'CONFIRMED',
    sequence: 0,
    start: '2026-10-02T13:00:00.000Z',
    end: '2026-10-02T15:00:00.000Z',
    location: '5 Größe Gate; rear, left, Brindle',
    description: 'inspect',
  });
  expect((await read(path)).text).not.toContain('heron');

  await t.pool.query('UPDATE promise SET ended_at = now() WHERE work_order_id = $1', [order]);
  await t.promise(order, '2026-10-05');
  const [moved] = await events(path);
  expect(moved).toMatchObject({ uid: promised?.uid, sequence: 1, start: '2026-10-05', end: '2026-10-06' });

  await withdraw(order);
  expect(await events(path)).toMatchObject([{ uid: promised?.uid, sequence: 2, status: 'CANCELLED' }]);
  // Read again nothing has changed.
  expect(await events(path)).toMatchObject([{ sequence: 2 }]);

  const next = await t.order({ east: 6, north: 5, task: 'inspect' });
  await t.house.stores.rows.update('work_order', next, {
    site_id: site,
    state: 'done',
    done_at: '2026-09-20T15:00:00Z',
  });
  expect((await events(path)).map(({ status }) => status).sort()).toEqual(['CANCELLED', 'CONFIRMED']);
});

test('who holds the version that is gets none again; a change gives another', async () => {
  const order = await t.order({ east: 7, north: 5, task: 'inspect' });
  const { path } = await feed({ name: 'x', siteId: await siteOf(order) });
  await t.promise(order, FRIDAY, '08:00', '10:00');
  const first = await read(path);
  const etag = String(first.headers['etag']);
  expect(etag).toMatch(/^"[\w-]{22}"$/);
  t.clock.at = new Date('2026-10-01T17:00:00Z');
  expect((await read(path, { 'if-none-match': etag })).status).toBe(304);
  expect((await read(path, { 'if-none-match': `"other", ${etag}` })).status).toBe(304);
  await withdraw(order);
  const second = await read(path, { 'if-none-match': etag });
  expect(second.status).toBe(200);
  expect(second.headers['etag']).not.toBe(etag);
});

test('an address is made for one thing, listed without it, and revoked at once', async () => {
  const order = await t.order({ east: 8, north: 5, task: 'inspect' });
  const siteId = await siteOf(order);
  const { id, path } = await feed({ name: 'sold', siteId });
  const list = await t.call('owner', { method: 'GET', url: '/v1/feeds' });
  const token = path.split('/')[2] ?? '-';
  expect(list.text).not.toContain(token);
  expect(list.body.items.find((each: Json) => each.id === id)).toMatchObject({ siteId, revokedAt: null });
  const { rows } = await t.pool.query('SELECT row_to_json(f)::text AS text FROM feed f');
  expect(rows.map((row) => row.text).join()).not.toContain(token);
  expect((await read(path)).status).toBe(200);
  const revoked = await t.call('dispatcher', { method: 'POST', url: `/v1/feeds/${id}/revocation` });
  expect(revoked.body.revokedAt).not.toBeNull();
  expect((await read(path)).status).toBe(404);
  expect((await read('/feeds/guess/calendar.ics')).status).toBe(404);
  const wrong = (payload: object) => t.call('dispatcher', { method: 'POST', url: '/v1/feeds', payload });
  expect(await wrong({ name: 'x' })).toMatchObject({
    status: 422,
    body: { errors: [{ pointer: '#/crewId' }] },
  });
  expect((await wrong({ name: 'x', siteId, crewId: t.crews.heron })).status).toBe(422);
  expect((await wrong({ name: 'x', siteId: randomUUID() })).status).toBe(422);
  expect((await t.call('technician', { method: 'GET', url: '/v1/feeds' })).status).toBe(403);
});

test('the secret of an address does not go into the log', async () => {
  const lines: string[] = [];
  const app = await buildApp(t.house, {
    requestsPerMinute: 0,
    logger: {
      level: 'info',
      serializers: { req: loggedRequest },
      stream: { write: (line: string) => void lines.push(line) },
    },
  });
  for (const url of [
    '/feeds/hush-hush/calendar.ics',
    '/%66eeds/hush-hush/calendar.ics',
    '//feeds/hush-hush/calendar.ics',
    'http://drains.example/feeds/hush-hush/calendar.ics',
    '/unsubscribe/hush-hush?x=1',
    '/%75nsubscribe/hush-hush?hush=1',
    '/feeds/hush-hush',
    '/v1/sites/hush%20Road?hush=2',
  ])
    await app.inject({ method: 'GET', url });
  await app.close();
  expect(lines.filter((line) => line.includes('/feeds/…')).length).toBeGreaterThan(0);
  expect(lines.join('')).toContain('/unsubscribe/…');
  expect(lines.join('')).not.toContain('hush');
});
