import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { HEARD_TABLES } from '../../src/persistence/changeStore.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

const [YESTERDAY, TODAY, TOMORROW] = ['2026-09-30', '2026-10-01', '2026-10-02'];
let t: RoutedHouse;
/** Tern leaves Heron for Kestrel; Falk stays with Heron. */
let keys: { tern: string; falk: string };
const [kestrel, kestrelRoute, kestrelPlan, falk] = Array.from({ length: 4 }, () => randomUUID()) as [
  string,
  string,
  string,
  string,
];
const kestrelYesterday = randomUUID();
const contacts = { own: randomUUID(), foreign: randomUUID() };
let membership: Json;

/** What is logged and a technician hears nothing of, be it that it is read with something else. */
const OF_THE_OFFICE = [
  'absence',
  'access_key',
  'call_out',
  'care_terms',
  'client',
  'closed_season',
  'crew',
  'crew_kit',
  'decision',
  'depot',
  'disruption',
  'epoch',
  'feed',
  'holiday',
  'incident',
  'kit_item',
  'line_section',
  'locate_rule',
  'member',
  'on_call_turn',
  'phone_call',
  'pipe_product',
  'plan',
  'proposal',
  'pump',
  'rain',
  'regime_change',
  'route_change',
  'shift',
  'site_client',
  'water_record',
  'webhook_endpoint',
];

beforeAll(async () => {
  t = await routedHouse(TODAY);
  const { rows } = t.house.stores;
  const crew = (await rows.all('crew', []))[0] ?? {};
  await rows.insert('crew', { id: kestrel, name: 'Kestrel', depot_id: crew['depot_id'], people: 2 });
  await rows.insert('member', { id: falk, name: 'Falk' });
  await rows.insert('crew_membership', {
    id: randomUUID(),
    crew_id: crew['id'],
    member_id: falk,
    from_day: '2026-01-01',
  });
  await layPlan(kestrelPlan, 'accepted', TOMORROW);
  await layRoute(kestrelRoute, kestrelPlan, kestrel, TOMORROW, true);
  await rows.insert('route', {
    id: kestrelYesterday,
    plan_id: kestrelPlan,
    crew_id: kestrel,
    day: YESTERDAY,
    state: 'live',
  });
  for (const of of ['own', 'foreign'] as const)
    await rows.insert('contact', {
      id: contacts[of],
      site_id: t[of].siteId,
      name: 'Reed',
      role: 'occupant',
      phone: '555 0100',
    });
  keys = { tern: await t.keyOf('Tern'), falk: await t.keyOf('Falk', falk) };
  membership = (
    await rows.all('crew_membership', [{ column: 'member_id', is: '=', value: t.memberId }])
  )[0] as Json;
}, 60_000);

const layPlan = (id: string, state: string, day: string) =>
  t.house.stores.rows.insert('plan', {
    id,
    state,
    from_day: day,
    to_day: day,
    because: 'test',
    asked_by: 'test',
    seed: 1,
    search_seconds: 1,
  });

/** With one stop, at the foreign site. */
async function layRoute(id: string, plan: string, crew: string, day: string, live: boolean): Promise<void> {
  const { rows } = t.house.stores;
  await rows.insert('route', { id, plan_id: plan, crew_id: crew, day, ...(live ? { state: 'live' } : {}) });
  await rows.insert('stop', {
    id: randomUUID(),
    route_id: id,
    position: 1,
    travel_s: 0,
    travel_m: 0,
    kind: 'visit',
    work_order_id: t.foreignOrderId,
    arrives_at: `${day}T14:00:00Z`,
    starts_at: `${day}T14:00:00Z`,
    ends_at: `${day}T15:00:00Z`,
    live,
  });
}

/** A change shows when no transaction before it is open, of whatever else runs on the test server too. */
const allShow = () =>
  expect
    .poll(
      async () =>
        (
          await t.pool.query(
            'SELECT max(xact) < pg_snapshot_xmin(pg_current_snapshot())::text::bigint AS yes FROM change_log',
          )
        ).rows[0].yes,
      { timeout: 30_000 },
    )
    .toBe(true);

/** All changes since a place, page by page. */
async function heardBy(key: string, since: string, limit = 200): Promise<{ items: Json[]; next: string }> {
  await allShow();
  const items: Json[] = [];
  for (let place = since; ; ) {
    const { body } = await t.as(key, 'GET', `/v1/changes?since=${place}&limit=${limit}`);
    items.push(...body.items);
    place = body.next;
    if (!body.more) return { items, next: place };
  }
}
async function placeOf(key: string): Promise<string> {
  await allShow();
  return (await t.as(key, 'GET', '/v1/changes')).body.next;
}
const opsOf = (items: Json[], ...ids: (string | undefined)[]) =>
  ids.map((id) => items.filter((each) => each.id === id).map((each) => each.op));
const patch = (url: string, payload: object, version = 1) =>
  t.call('dispatcher', { method: 'PATCH', url, payload, headers: { 'if-match': `"${version}"` } });

test('who leaves a crew hears that its routes and all on their sites are no longer theirs', async () => {
  const start = await placeOf(keys.tern);
  const left = await patch(`/v1/crew-memberships/${membership.id}`, { toDay: TODAY });
  expect(left.status, JSON.stringify(left.body)).toBe(200);
  const { items } = await heardBy(keys.tern, start);
  expect(items).toContainEqual(
    expect.objectContaining({ resource: 'crew_membership', id: membership.id, op: 'changed', href: null }),
  );
  const { siteId, lineId, pitId, systemId } = t.own;
  const theirs = [t.routeId, t.orderId, siteId, lineId, pitId, systemId, contacts.own];
  expect(opsOf(items, ...theirs)).toEqual(theirs.map(() => ['removed']));
  expect(items.map(({ op }) => op).filter((op) => op !== 'removed')).toEqual(['changed']);
  // One at a time they are the same, and Falk, who stays, hears of nothing.
  const of = (all: Json[]) => all.map(({ id, op }) => `${id} ${op}`).sort();
  expect(of((await heardBy(keys.tern, start, 1)).items)).toEqual(of(items));
  expect((await heardBy(keys.falk, start)).items).toEqual([]);
});

test('who joins a crew hears of its routes and all on their sites, and may read each', async () => {
  const start = await placeOf(keys.tern);
  const joined = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/crew-memberships',
    payload: { crewId: kestrel, memberId: t.memberId, fromDay: TODAY },
  });
  expect(joined.status, JSON.stringify(joined.body)).toBe(201);
  const { items } = await heardBy(keys.tern, start);
  const { siteId, lineId, pitId, systemId } = t.foreign;
  const theirs = [kestrelRoute, t.foreignOrderId, siteId, lineId, pitId, systemId, contacts.foreign];
  expect(opsOf(items, ...theirs)).toEqual(theirs.map(() => ['changed']));
  // Nothing of what was before their time, nor of what is theirs no more already.
  expect(opsOf(items, kestrelYesterday, t.routeId, t.own.siteId)).toEqual([[], [], []]);
  expect(items.map(({ op }) => op)).not.toContain('removed');
  for (const { href } of items.filter((each) => each.href !== null))
    expect((await t.as(keys.tern, 'GET', href)).status, href).toBe(200);
});

test('a visit that goes to another crew is gone for the one and has come for the other', async () => {
  const [start, falks] = [await placeOf(keys.tern), await placeOf(keys.falk)];
  const [plan, route] = [randomUUID(), randomUUID()];
  const crew = membership['crew_id'] as string;
  await layPlan(plan, 'proposed', TOMORROW);
  await layRoute(route, plan, crew, TOMORROW, false);
  await t.house.transact({ name: 'dispatcher' }, (stores) => stores.plans.makeLive(plan));

  const lost = await heardBy(keys.tern, start);
  const theirs = [t.foreignOrderId, t.foreign.siteId, t.foreign.lineId, contacts.foreign];
  expect(opsOf(lost.items, ...theirs, kestrelRoute)).toEqual(
    [...theirs, kestrelRoute].map(() => ['removed']),
  );
  expect(lost.items.map(({ id }) => id)).not.toContain(route);
  const come = await heardBy(keys.falk, falks);
  for (const ops of opsOf(come.items, ...theirs, route)) {
    expect(ops).toContain('changed');
    expect(ops).not.toContain('removed');
  }

  // From then on the one hears nothing of the site, the other does.
  const moved = await patch(`/v1/contacts/${contacts.foreign}`, { phone: '555 0199' });
  expect(moved.status, JSON.stringify(moved.body)).toBe(200);
  expect((await heardBy(keys.tern, lost.next)).items).toEqual([]);
  expect(opsOf((await heardBy(keys.falk, come.next)).items, contacts.foreign)).toEqual([['changed']]);
});

test('of every table that is logged it is said whether a technician hears of it', async () => {
  const { rows } = await t.pool.query(
    `SELECT DISTINCT c.relname AS name FROM pg_trigger g JOIN pg_class c ON c.oid = g.tgrelid JOIN pg_proc p ON p.oid = g.tgfoid
      WHERE p.proname = 'log_change' AND NOT g.tgisinternal`,
  );
  const logged: string[] = rows.map(({ name }) => name);
  expect(HEARD_TABLES.filter((table) => !logged.includes(table))).toEqual([]);
  expect(logged.filter((table) => !HEARD_TABLES.includes(table)).sort()).toEqual(OF_THE_OFFICE);
});

test('the bytes of a photograph are heard of by the crew on whose site it was taken', async () => {
  const [own, foreign] = [randomUUID(), randomUUID()];
  const { rows } = t.house.stores;
  for (const [id, { siteId }] of [
    [own, t.own],
    [foreign, t.foreign],
  ] as const)
    await rows.insert('attachment', {
      id,
      site_id: siteId,
      taken_at: `${TODAY}T11:00:00Z`,
      author: 'Falk',
      author_id: falk,
    });
  const wren = randomUUID();
  await rows.insert('member', { id: wren, name: 'Wren' });
  const strangers = await t.keyOf('Wren', wren);
  const [falks, wrens] = [await placeOf(keys.falk), await placeOf(strangers)];
  for (const id of [own, foreign])
    await rows.insert('stored_file', {
      id,
      kind: 'document',
      media_type: 'application/pdf',
      bytes: 1000,
      sha256: Buffer.alloc(32, 1),
      original_key: `${id}/original`,
      author: 'Falk',
      author_id: falk,
    });
  expect(opsOf((await heardBy(keys.falk, falks)).items, own)).toEqual([['created']]);
  expect((await heardBy(strangers, wrens)).items).toEqual([]);
});

test('what is none of theirs is looked at once: the next place is behind it', async () => {
  const [start, offices] = [await placeOf(keys.tern), await placeOf(t.keys.dispatcher)];
  await t.house.stores.rows.insert('client', { id: randomUUID(), name: 'A. Reed' });
  const [heard, office] = [await heardBy(keys.tern, start), await heardBy(t.keys.dispatcher, offices)];
  expect(heard.items).toEqual([]);
  expect(office.items.map(({ resource }) => resource)).toEqual(['client']);
  expect(heard.next).not.toBe(start);
  expect(heard.next).toBe(office.next);
  expect((await heardBy(keys.tern, heard.next)).next).toBe(heard.next);
});
