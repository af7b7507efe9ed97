import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { handOnEvents } from '../../../src/actions/telling/handOn.js';
import { tellReminders } from '../../../src/actions/telling/visits.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

/** What becomes of all that hangs on a client or a house when clients are merged and houses sold. */
let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = (url: string, payload: object, headers: Record<string, string> = {}) =>
  t.call('dispatcher', { method: 'POST', url, payload, headers });
const add = async (table: string, row: object): Promise<string> => {
  const id = randomUUID();
  await t.house.stores.rows.insert(table, { id, ...row });
  return id;
};
const client = (more: object = {}) => add('client', { name: 'Amanda Reed', ...more });
const merge = (kept: string, double: string, headers = {}) =>
  post(`/v1/clients/${kept}/merger`, { doubleId: double, because: 'the same person' }, headers);
/** An order ahead on a house of a client's. */
async function orderOf(clientId: string): Promise<{ order: string; site: string }> {
  const order = await t.order({ east: 1, north: 8 });
  const site = String((await get(`/v1/work-orders/${order}`)).siteId);
  await add('site_client', { site_id: site, client_id: clientId, from_day: '2024-01-01' });
  return { order, site };
}
const mailed = async (): Promise<string[]> => {
  await t.house.transact({ name: 'test' }, (stores) => tellReminders(stores, THURSDAY, FRIDAY));
  await handOnEvents(t.house, true);
  const { rows } = await t.pool.query('SELECT contact_id FROM mail ORDER BY contact_id');
  return rows.map((row) => String(row['contact_id']));
};

test('orders, promises, contacts, terms and calendar addresses of a merged client go on as they were', async () => {
  const [kept, double] = [await client(), await client({ name: 'Mandy Reed' })];
  const { order, site } = await orderOf(double);
  await t.promise(order, FRIDAY, '08:00', '10:00');
  const terms = await add('care_terms', { site_id: site, interval_days: 180, from_day: '2024-01-01' });
  const contact = await add('contact', { client_id: double, name: 'M. Reed', opt_out: true });
  const feed = await post('/v1/feeds', { name: 'kitchen', siteId: site });
  expect(await merge(kept, double)).toMatchObject({
    status: 200,
    body: { moved: { sites: 1, contacts: 1, calls: 0 } },
  });
  expect(await get(`/v1/work-orders/${order}`)).toMatchObject({
    state: 'wanted',
    promises: [{ day: FRIDAY, endedAt: null }],
    waitsFor: [],
  });
  expect(await get(`/v1/contacts/${contact}`)).toMatchObject({ clientId: kept, optOut: true });
  expect(await get(`/v1/care-terms/${terms}`)).toMatchObject({ toDay: null });
  const calendar = await t.call(null, { method: 'GET', url: new URL(feed.body.url, 'http://x').pathname });
  expect(calendar.text).toContain('Drain visit');
});

test('merged again, in a circle, from both sides at once, or with a key that came before', async () => {
  const [a, b, c] = [await client(), await client(), await client()];
  const first = await merge(a, b, { 'idempotency-key': 'merge-1' });
  expect(first.status).toBe(200);
  // The same call again is the same answer; as a new call it is told where the double went.
  expect((await merge(a, b, { 'idempotency-key': 'merge-1' })).body).toEqual(first.body);
  const told = await merge(a, b);
  expect(told).toMatchObject({
    status: 422,
    body: { errors: [{ pointer: '#/doubleId', remedy: `client ${a}` }] },
  });
  const circle = await merge(b, a);
  expect(circle).toMatchObject({ status: 422, body: { errors: [{ pointer: '#', remedy: `client ${a}` }] } });
  const both = await Promise.all([merge(a, c), merge(c, a)]);
  expect(both.map(({ status }) => status).sort()).toEqual([200, 422]);
  const { rows } = await t.pool.query('SELECT id FROM client WHERE merged_into_id IS NULL');
  expect(rows).toHaveLength(1);
  // Everything points to the one that is left, in one step.
  const { rows: pointers } = await t.pool.query(
    'SELECT DISTINCT merged_into_id AS kept FROM client WHERE merged_into_id IS NOT NULL',
  );
  expect(pointers).toEqual([{ kept: rows[0]?.['id'] }]);
});

test('nothing new goes to a client that was merged; its papers are those of the one that was kept', async () => {
  const [kept, double] = [await client(), await client({ name: 'Mandy Reed' })];
  const { site } = await orderOf(double);
  await merge(kept, double);
  const contact = await post('/v1/contacts', { clientId: double, name: 'M. Reed' });
  expect(contact).toMatchObject({
    status: 422,
    body: { errors: [{ pointer: '#/clientId', remedy: `client ${kept}` }] },
  });
  expect((await post('/v1/site-clients', { siteId: site, clientId: double })).status).toBe(422);
  const call = { kind: 'alarm', newSite: { address: '9 Sluice Lane', town: 'Brindle' } };
  expect((await post('/v1/calls', { ...call, clientId: double })).status).toBe(422);
  expect(
    (await post(`/v1/sites/${site}/sale`, { soldOn: THURSDAY, buyer: { clientId: double } })).status,
  ).toBe(422);
  const paper = await t.call('dispatcher', { method: 'GET', url: `/v1/clients/${double}/summary?year=2026` });
  expect(paper.text).toContain('1 Marsh Gate');
});

test('who wants no mail gets none at the same address under another name, nor at one only a double had', async () => {
  const [kept, double] = [
    await client({ email: 'reed@example.org' }),
    await client({ name: 'Mandy Reed', email: 'mandy@example.org' }),
  ];
  const { order, site } = await orderOf(kept);
  await t.promise(order, FRIDAY);
  await add('contact', { client_id: double, name: 'M. Reed', email: 'House@example.org', no_mail: true });
  await add('contact', { site_id: site, name: 'A. Reed', email: 'house@example.org' });
  const neighbour = await add('contact', { client_id: kept, name: 'B. Marsh', email: 'marsh@example.org' });
  await merge(kept, double);
  // At the site nobody is left to be mailed; of the client's contacts the neighbour is, the old address is not.
  expect(await mailed()).toEqual([neighbour]);
  const { items } = await get(`/v1/contacts?clientId=${kept}`);
  expect(items.map(({ name, role, email }: Json) => [name, role, email])).toContainEqual([
    'Mandy Reed',
    'earlier record',
    'mandy@example.org',
  ]);
});

test('sold: what the seller agreed to ends, the crew hears of it, and the buyer is asked', async () => {
  const seller = await client();
  const { order, site } = await orderOf(seller);
  await t.pool.query(
    `UPDATE site SET early_visits_ok = true, access_notes = 'gate 4711', hours = '[{"weekday":"thu","from":"08:00","to":"15:00"}]' WHERE id = $1`,
    [site],
  );
  const tenant = await add('contact', {
    site_id: site,
    name: 'T. Brook',
    role: 'tenant',
    email: 't@example.org',
  });
  await add('contact', { site_id: site, name: 'K. Low', role: 'keyholder' });
  const decision = await add('decision', {
    site_id: site,
    kind: 'refusal',
    decided_by: 'A. Reed',
    decided_on: '2026-05-01',
    risk_told: 'it may flood',
    task: 'dig_and_replace',
  });
  const [line] = await t.house.stores.rows.all('line', [{ column: 'site_id', is: '=', value: site }]);
  const offered = await add('proposal', {
    site_id: site,
    kind: 'cleanout',
    line_id: line?.['id'],
    state: 'offered',
    offered_on: '2026-09-01',
    offered_by: 'x',
  });
  const early = await add('precondition', {
    work_order_id: order,
    kind: 'consent',
    facts: { ask: 'the terms allow no early visit', askedOn: '2026-09-20', termsDay: '2026-10-20' },
  });
  await t.pool.query(`UPDATE precondition SET state = 'waived' WHERE id = $1`, [early]);
  expect(
    (await t.place(order, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null })).status,
  ).toBe(200);
  await t.pool.query(`UPDATE precondition SET state = 'open' WHERE id = $1`, [early]);
  await t.promise(order, THURSDAY, '08:00', '10:00');
  await post(`/v1/days/${THURSDAY}/publication`, {});
  const feed = await post('/v1/feeds', { name: 'kitchen', siteId: site });
  const calendarUrl = new URL(feed.body.url, 'http://x').pathname;
  expect((await t.call(null, { method: 'GET', url: calendarUrl })).status).toBe(200);

  const sale = await post(`/v1/sites/${site}/sale`, {
    soldOn: '2026-09-30',
    buyer: { name: 'Bo Alder', phone: '555 0142' },
    keepContactIds: [tenant],
  });
  expect(sale.status, sale.text).toBe(200);
  expect(sale.body).toMatchObject({
    endedDecisionIds: [decision],
    endedFeedIds: [feed.body.id],
    withdrawnProposalIds: [offered],
    endedPromises: [{ workOrderId: order, day: THURSDAY, fromTime: '08:00', toTime: '10:00' }],
    toDecide: [{ id: order, state: 'wanted' }],
  });
  expect(sale.body.toAsk.map(({ code }: Json) => code)).toEqual(['keys', 'access_notes', 'hours']);
  expect(await get(`/v1/sites/${site}`)).toMatchObject({ earlyVisitsOk: false, accessNotes: 'gate 4711' });
  const after = await get(`/v1/work-orders/${order}`);
  expect(after.promises).toMatchObject([{ endedBecause: 'the house was sold' }]);
  // The question that was the seller's is the buyer's now: the terms' day no longer answers it.
  expect(after.waitsFor).toMatchObject([{ id: early, state: 'open', facts: { because: 'house sold' } }]);
  expect(after.waitsFor[0].facts.termsDay).toBeUndefined();
  // The seller's calendar shows nothing of the buyer's house.
  expect((await t.call(null, { method: 'GET', url: calendarUrl })).status).toBe(404);
  // The crew was told of the visit, and hears that it is gone, and why.
  const { gone } = await get(`/v1/routes?day=${THURSDAY}`);
  const now = (await get(`/v1/routes?day=${THURSDAY}`)).items;
  expect([...gone, ...now].flatMap(({ changesSincePublished }: Json) => changesSincePublished)).toMatchObject(
    [{ kind: 'removed', workOrderId: order }],
  );
  const events = (await t.call('owner', { method: 'GET', url: '/v1/events?type=route_changed' })).body.items;
  expect(events).toMatchObject([{ facts: { because: 'house sold', changes: [{ kind: 'removed' }] } }]);
  // Nobody is reminded of a visit that waits; the tenant stays.
  expect(await mailed()).toEqual([]);
  expect(await get(`/v1/contacts/${tenant}`)).toMatchObject({ archivedOn: null });
});

test('sold with readings, cleans and visits: the history stays, and each owner’s paper holds the own time', async () => {
  const seller = await client();
  const { order, site } = await orderOf(seller);
  const [line] = await t.house.stores.rows.all('line', [{ column: 'site_id', is: '=', value: site }]);
  await add('clean', {
    line_id: line?.['id'],
    task: 'jet',
    cleaned_at: '2026-03-01T15:00:00Z',
    author: 'test',
  });
  await post(`/v1/work-orders/${order}/withdrawal`, { because: 'test' });
  const sale = await post(`/v1/sites/${site}/sale`, { soldOn: '2026-06-01', buyer: { name: 'Bo Alder' } });
  expect((await get(`/v1/cleans?lineId=${line?.['id']}`)).items).toHaveLength(1);
  const paper = async (id: string) =>
    (await t.call('dispatcher', { method: 'GET', url: `/v1/clients/${id}/summary?year=2026` })).text;
  const cleans = '<td class="num">1</td>';
  expect(await paper(seller)).toContain(cleans);
  expect(await paper(sale.body.buyerId)).not.toContain(cleans);
});

test('a visit taken off a published route by withdrawing its order is told to the crew', async () => {
  const [a, b] = [await t.order({ east: 1, north: 8 }), await t.order({ east: 2, north: 8 })];
  await t.place(a, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  await t.place(b, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: a });
  await post(`/v1/days/${THURSDAY}/publication`, {});
  await post(`/v1/work-orders/${a}/withdrawal`, { because: 'the client moved away' });
  const [route] = (await get(`/v1/routes?day=${THURSDAY}`)).items;
  expect(route.changesSincePublished).toMatchObject([{ kind: 'removed', workOrderId: a }]);
  expect((await get(`/v1/routes/${route.id}/changes`)).items).toMatchObject([
    {
      madeBy: 'dispatcher',
      because: 'the client moved away',
      changes: [{ kind: 'removed', workOrderId: a }],
    },
  ]);
  const events = (await t.call('owner', { method: 'GET', url: '/v1/events?type=route_changed' })).body.items;
  expect(events).toHaveLength(1);
});
