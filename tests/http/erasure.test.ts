import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { tablesHolding } from '../setup/everyText.js';
import { type PeopleOnBooks, peopleOnBooks } from '../setup/peopleOnBooks.js';

let t: PeopleOnBooks;

beforeAll(async () => {
  t = await peopleOnBooks();
}, 60_000);

test('another of the same name keeps name and notes; what may mean either is told', async () => {
  const own = await t.clientOf('Rowan Tuttle');
  const other = await t.clientOf('Rowan Tuttle', '555 010 9902');
  await t.house.stores.rows.update('site', own.siteId, {
    access_notes: 'key with Rowan Tuttle’s sister, Ms Tuttle',
  });
  const free = await t.add('rain', {
    ended_at: '2026-01-01T00:00:00Z',
    author: 'x',
    area: 'asked Rowan Tuttle',
  });
  const done = await t.post('', { person: 'client', personId: own.clientId });
  expect(done.status, done.text).toBe(201);
  expect(await t.get('site', own.siteId)).toMatchObject({
    access_notes: 'key with [erased]’s sister, Ms Tuttle',
  });
  expect(await t.get('inspection', own.inspectionId)).toMatchObject({ note: '[erased] held the torch' });
  expect(await t.get('client', other.clientId)).toMatchObject({ name: 'Rowan Tuttle' });
  expect(await t.get('inspection', other.inspectionId)).toMatchObject({
    note: 'Rowan Tuttle held the torch',
  });
  const places = done.body.toLookAt.map(
    (each: { resource: string; id: string }) => `${each.resource} ${each.id}`,
  );
  expect(places).toContain(`site ${own.siteId}`);
  expect(places).toContain(`rain ${free}`);
  expect(places).not.toContain(`client ${other.clientId}`);
});

test('work ahead and care terms end first', async () => {
  const own = await t.clientOf('Perpetua Voss');
  const order = await t.add('work_order', {
    site_id: own.siteId,
    cause: 'due',
    minutes: 60,
    state: 'wanted',
  });
  const terms = await t.add('care_terms', { site_id: own.siteId, interval_days: 90, from_day: '2026-01-01' });
  const refused = await t.post('', { person: 'client', personId: own.clientId });
  expect(refused.status).toBe(422);
  expect(refused.body.errors).toHaveLength(2);
  expect(refused.body.errors[0].remedy).toBe('end it first, then erase');
  expect((await t.get('client', own.clientId))['name']).toBe('Perpetua Voss');
  await t.house.stores.rows.update('work_order', order, { state: 'withdrawn', withdrawn_because: 'leaves' });
  await t.house.stores.rows.update('care_terms', terms, { to_day: '2026-09-30' });
  expect((await t.post('', { person: 'client', personId: own.clientId })).status).toBe(201);
});

test('an incident keeps its words for its years, and says so; done orders and the water log stay without the name', async () => {
  const own = await t.clientOf('Ambrose Fenn', '555 010 7731');
  const order = await t.add('work_order', {
    site_id: own.siteId,
    cause: 'due',
    minutes: 60,
    state: 'done',
    done_at: '2026-05-02T15:00:00Z',
    price_minor: 12_300,
    note: 'Ambrose Fenn pays in cash',
  });
  const water = await t.add('water_record', {
    work_order_id: order,
    phase: 'recorded',
    receiver: 'caught',
    at: '2026-05-02T15:00:00Z',
    author: 'Tern',
    water_l: 300,
    place: 'behind the shed of Ambrose Fenn',
  });
  const incident = (happenedAt: string) =>
    t.add('incident', {
      kind: 'injury',
      site_id: own.siteId,
      happened_at: happenedAt,
      what: 'Ambrose Fenn slipped on the hose',
      author: 'Tern',
    });
  const [recent, old] = [await incident('2026-05-02T15:00:00Z'), await incident('2015-05-02T15:00:00Z')];
  const proof = await t.photograph(own.siteId, { work_order_id: order });
  await t.add('incident', {
    kind: 'damage',
    work_order_id: order,
    happened_at: '2026-05-02T15:00:00Z',
    what: 'a broken pane',
    author: 'Tern',
  });
  const done = await t.post('', { person: 'client', personId: own.clientId, photographs: true });
  expect(done.status, done.text).toBe(201);
  expect(await t.get('incident', recent)).toMatchObject({ what: 'Ambrose Fenn slipped on the hose' });
  expect(await t.get('incident', old)).toMatchObject({ what: '[erased] slipped on the hose' });
  expect(await tablesHolding(t.pool, 'ambrose')).toEqual(['public.incident: 1']);
  expect(await t.get('work_order', order)).toMatchObject({
    price_minor: 12_300,
    note: '[erased] pays in cash',
  });
  expect(await t.get('water_record', water)).toMatchObject({
    water_l: 300,
    place: 'behind the shed of [erased]',
  });
  expect(await t.house.files?.store.size(proof.key)).toBe(7);
  const kept = Object.fromEntries(done.body.kept.map((each: { what: string }) => [each.what, each]));
  // 5 × 365.25 days from 2 May 2026 round to 1826: 2 May 2031. 7 × 365.25 to 2557: 2 May 2033.
  expect(kept.incidents).toMatchObject({ count: 2, until: '2031-05-02' });
  expect(kept.incidents.why).toContain('still hold');
  expect(kept.water_records).toMatchObject({ count: 1, until: '2031-05-02' });
  expect(kept.done_orders).toMatchObject({ count: 1, until: '2033-05-02' });
  expect(kept.photographs).toMatchObject({ count: 1 });
});

test('a contact: mails to come are dropped, a number shared with somebody else stays with them', async () => {
  const own = await t.clientOf('Hester Lamb', '555 010 3366');
  const contact = await t.add('contact', {
    site_id: own.siteId,
    client_id: own.clientId,
    name: 'Jory Lamb',
    phone: '555 010 3366',
    email: 'jory@example.org',
  });
  const event = await t.add('event', {
    kind: 'reminder_due',
    subject_id: randomUUID(),
    once_key: randomUUID(),
    facts: {},
  });
  const mail = await t.add('mail', { event_id: event, contact_id: contact, kind: 'reminder' });
  const done = await t.post('', { person: 'contact', personId: contact });
  expect(done.status, done.text).toBe(201);
  expect(done.body.erased.mailsDropped).toBe(1);
  expect(await t.get('mail', mail)).toMatchObject({
    state: 'dropped',
    dropped_because: 'the contact was erased',
  });
  expect(await tablesHolding(t.pool, 'jory')).toEqual([]);
  expect(await t.get('client', own.clientId)).toMatchObject({ name: 'Hester Lamb', phone: '555 010 3366' });
  expect(done.body.kept.map(({ what }: { what: string }) => what)).toContain('shared_numbers');
});

test('a caller: the call stays, who called does not', async () => {
  const siteId = await t.site();
  const call = await t.add('phone_call', {
    kind: 'alarm',
    received_at: '2026-09-01T12:00:00Z',
    taken_by: 'office',
    caller_name: 'Wilhelmina Stroud',
    caller_phone: '555.010.8812',
    site_id: siteId,
    what: 'Wilhelmina Stroud hears the alarm, call 5550108812',
    urgency: 'today',
    respond_by: '2026-09-01T16:00:00Z',
  });
  expect((await t.post('', { person: 'caller', personId: call })).status).toBe(201);
  expect(await t.get('phone_call', call)).toMatchObject({
    caller_name: null,
    caller_phone: null,
    what: '[erased] hears the alarm, call [erased]',
  });
  // Asked for again, there is nothing left of the person.
  const again = await t.post('/dry-run', { person: 'caller', personId: call });
  expect(again.body).toMatchObject({ records: [], texts: [], toLookAt: [] });
});

test('only the owner; nobody unknown; no day to come; photographs that are there', async () => {
  const ask = { person: 'client', personId: randomUUID() };
  expect((await t.call('dispatcher', { method: 'POST', url: '/v1/erasures', payload: ask })).status).toBe(
    403,
  );
  expect((await t.post('', ask)).status).toBe(404);
  expect((await t.post('/dry-run', { ...ask, person: 'contact' })).status).toBe(404);
  expect((await t.post('', { ...ask, person: 'neighbour' })).status).toBe(400);
  const own = await t.clientOf('Cyprian Dale');
  const early = await t.post('', { person: 'client', personId: own.clientId, askedOn: '2026-10-02' });
  expect(early.body.errors[0]).toMatchObject({ pointer: '#/askedOn', remedy: 'a day up to 2026-10-01' });
  const none = await t.post('', { person: 'client', personId: own.clientId, attachmentIds: [randomUUID()] });
  expect(none.body.errors[0].pointer).toBe('#/attachmentIds');
});
