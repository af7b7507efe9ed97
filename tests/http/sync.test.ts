import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { SENT_AT as NOW, type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: SyncedHouse;
let key: string;

beforeAll(async () => {
  t = await syncedHouse();
  key = t.key;
}, 60_000);

const sync = async (items: unknown[], sentAt = NOW, bearer = key): Promise<Json> => {
  const { status, body } = await t.as(bearer, 'POST', '/v1/sync', { sentAt, items });
  expect(status, JSON.stringify(body)).toBe(200);
  return body;
};
const one = async (item: object, sentAt = NOW, bearer = key): Promise<Json> =>
  (await sync([item], sentAt, bearer)).items[0];
let minute = 0;
const look = (more: object = {}) => ({
  kind: 'inspection',
  id: randomUUID(),
  at: new Date(Date.UTC(2026, 9, 1, 13, minute++)).toISOString(),
  lineId: t.own.lineId,
  phase: 'no_cleaning',
  reading: { method: 'by_word', word: 'half' },
  ...more,
});
const row = (table: string, id: string) => t.house.stores.rows.get(table, id);
const listed = async (query: string, bearer = key): Promise<Json[]> =>
  (await t.as(bearer, 'GET', `/v1/sync-items?${query}`)).body.items;

test('a clock an hour ahead is noticed, told, and set right; one a day behind likewise; seconds are no matter', async () => {
  const ahead = look({ at: '2026-10-01T20:30:00Z' });
  const answer = await sync([ahead], '2026-10-01T21:00:02Z');
  expect(answer.clock).toEqual({
    offsetSeconds: 3600,
    right: false,
    text: "This device's clock is 1 hour ahead. Times were set right by that; set the clock.",
  });
  expect(answer.items[0].outcome).toBe('accepted');
  expect(await row('inspection', ahead.id)).toMatchObject({
    observed_at: '2026-10-01T19:30:00.000Z',
    device_clock_offset_s: 3600,
  });

  const behind = look({ at: '2026-09-30T18:00:00Z' });
  const late = await sync([behind], '2026-09-30T19:59:57Z');
  expect(late.clock).toMatchObject({ offsetSeconds: -86_400, right: false });
  expect(late.clock.text).toContain('1 day behind');
  expect(await row('inspection', behind.id)).toMatchObject({ observed_at: '2026-10-01T18:00:00.000Z' });

  expect((await sync([look()], '2026-10-01T19:58:30Z')).clock).toEqual({
    offsetSeconds: 0,
    right: true,
    text: null,
  });
});

test('one bad item keeps nobody waiting: it names its field, and nothing of it is kept', async () => {
  const good = look();
  const answer = await sync([
    { ...look(), reading: { method: 'by_word', word: 'rather full' } },
    { kind: 'dance', id: randomUUID(), at: NOW },
    'nonsense',
    look({ lineId: t.foreign.lineId }),
    look({ distance: { value: 31, unit: 'm' } }),
    look({ at: '2026-10-02T08:00:00Z' }),
    good,
  ]);
  expect(answer.items.map((item: Json) => [item.outcome, item.problem?.status ?? null])).toEqual([
    ['refused', 400],
    ['refused', 400],
    ['refused', 400],
    ['refused', 403],
    ['refused', 422],
    ['refused', 422],
    ['accepted', null],
  ]);
  expect(answer.items[0].problem.errors[0].pointer).toBe('#/reading/word');
  expect(answer.items[2].id).toBeNull();
  expect(answer.items[4].problem.errors[0].pointer).toBe('#/distance');
  expect(answer.items[5].problem.errors[0].pointer).toBe('#/at');
  expect(answer.items[6].href).toBe(`/v1/inspections/${good.id}`);
  // What was refused can be looked at, and nothing came of it.
  expect(await listed('state=refused')).toHaveLength(4);
  expect(await row('inspection', answer.items[4].id)).toBeNull();
});

test('what was refused is put right under its own id', async () => {
  const wrong = look({ distance: { value: 40, unit: 'm' } });
  expect((await one(wrong)).outcome).toBe('refused');
  expect((await one(wrong)).outcome).toBe('refused');
  expect((await one({ ...wrong, distance: { value: 4, unit: 'm' } })).outcome).toBe('accepted');
  expect((await one({ ...wrong, distance: { value: 4, unit: 'm' } })).outcome).toBe('same');
});

test('the same id with other content is kept for a person, once; the first content stands', async () => {
  const first = look();
  const other = { ...first, reading: { method: 'by_word', word: 'heavy' } };
  expect((await sync([first, first])).items.map((item: Json) => item.outcome)).toEqual(['accepted', 'same']);
  for (const _ of [1, 2]) {
    const answer = await one(other);
    expect(answer.outcome).toBe('conflict');
    expect(answer.problem.status).toBe(409);
  }
  const kept = await t.call('dispatcher', { method: 'GET', url: `/v1/conflicts?resourceId=${first.id}` });
  expect(kept.body.items).toHaveLength(1);
  expect(kept.body.items[0]).toMatchObject({
    author: 'Tern',
    content: { reading: { word: 'heavy' } },
    because: 'the id came before with other content',
  });
  expect((await row('inspection', first.id))?.['raw']).toMatchObject({ word: 'half' });
});

test('an id is one id at either door', async () => {
  const { kind: _, at, ...rest } = look();
  const alone = await t.as(key, 'POST', '/v1/inspections', { ...rest, observedAt: at });
  expect(alone.status, JSON.stringify(alone.body)).toBe(201);
  expect((await one({ ...rest, kind: 'inspection', at })).outcome).toBe('accepted');
  const answer = await one({ ...rest, kind: 'inspection', at, phase: 'before_cleaning' });
  expect(answer.outcome).toBe('conflict');
  const note = { id: randomUUID(), siteId: t.own.siteId, text: 'gate key under the heron' };
  expect((await one({ ...note, kind: 'note', at: NOW })).outcome).toBe('accepted');
  const again = await t.as(key, 'POST', '/v1/notes', { ...note, notedAt: NOW });
  expect(again.status, JSON.stringify(again.body)).toBe(201);
  expect((await t.as(key, 'GET', `/v1/notes?siteId=${t.own.siteId}`)).body.items).toHaveLength(1);
});

test('what came before its ground waits, is listed with what it waits for, and is done when that comes by any door', async () => {
  const [startAt, endAt] = ['2026-10-01T14:00:00Z', '2026-10-01T15:00:00Z'];
  const lost = randomUUID();
  const finish = {
    kind: 'finish',
    id: randomUUID(),
    at: endAt,
    workOrderId: t.orderId,
    after: [lost],
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  };
  expect(await one(finish)).toMatchObject({
    outcome: 'waiting',
    waitsFor: [`item:${lost}`, `start:${t.orderId}`],
  });
  expect((await one(finish)).outcome).toBe('waiting');
  expect((await listed('state=waiting')).map((item) => item.id)).toEqual([finish.id]);
  expect(await listed('state=waiting', await t.keyOf('Wren', await otherMember()))).toEqual([]);

  // The start comes by its own endpoint, from the office.
  const started = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${t.orderId}/start`,
    payload: { startedAt: startAt },
  });
  expect(started.status, started.text).toBe(200);
  expect((await listed('state=waiting'))[0].waitsFor).toEqual([`item:${lost}`]);
  // What it still waits for was lost with a phone: the office waits no longer.
  const withdrawal = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/sync-items/${finish.id}/withdrawal`,
    payload: { because: 'typed in by hand' },
  });
  expect(withdrawal.body).toMatchObject({ state: 'withdrawn', settledBy: 'dispatcher: typed in by hand' });
  expect((await one(finish)).outcome).toBe('withdrawn');

  const found = { ...look(), id: lost, workOrderId: t.orderId };
  const second = { ...finish, id: randomUUID() };
  expect((await sync([second, found])).items.map((item: Json) => item.outcome)).toEqual([
    'accepted',
    'accepted',
  ]);
  expect(await row('work_order', t.orderId)).toMatchObject({ state: 'done' });

  // Somebody else ends the same visit otherwise: kept, shown, not done.
  const otherwise = { ...finish, id: randomUUID(), after: [], flowProven: 'no' };
  expect(await one(otherwise)).toMatchObject({ outcome: 'conflict', problem: { status: 409 } });
  const kept = await t.call('owner', { method: 'GET', url: `/v1/conflicts?resourceId=${t.orderId}` });
  expect(kept.body.items).toMatchObject([{ author: 'Tern', content: { flowProven: 'no' } }]);
  expect(kept.body.items[0].because).toContain('not in a state for this');
});

async function otherMember(): Promise<string> {
  const id = randomUUID();
  await t.house.stores.rows.insert('member', { id, name: 'Wren' });
  return id;
}

test('who has no visit on the site brings nothing to it, by sync or by any of its own addresses', async () => {
  const stranger = await t.keyOf('Wren', await otherMember());
  const at = '2026-10-01T16:00:00Z';
  const order = { workOrderId: t.orderId };
  const items = [
    look(),
    { kind: 'clean', id: randomUUID(), at, lineId: t.own.lineId },
    { kind: 'note', id: randomUUID(), at, siteId: t.own.siteId, text: 'x' },
    { kind: 'attachment', id: randomUUID(), at, siteId: t.own.siteId },
    { kind: 'found_line', id: randomUUID(), at, ...order, name: 'X', lineKind: 'yard_drain' },
    { kind: 'found_access_point', id: randomUUID(), at, ...order, pointKind: 'outlet', place: 'x' },
    { kind: 'price_acceptance', id: randomUUID(), at, ...order, by: 'X', amountMinor: 1 },
  ];
  const answer = await sync(items, NOW, stranger);
  expect(answer.items.map((item: Json) => item.problem?.status)).toEqual(items.map(() => 403));
  const post = async (url: string, body: object) => (await t.as(stranger, 'POST', url, body)).status;
  expect(
    await post(`/v1/work-orders/${t.orderId}/found-lines`, {
      foundAt: at,
      name: 'X',
      lineKind: 'yard_drain',
    }),
  ).toBe(403);
  expect(
    await post(`/v1/work-orders/${t.orderId}/found-access-points`, {
      foundAt: at,
      pointKind: 'outlet',
      place: 'x',
    }),
  ).toBe(403);
  expect(
    await post(`/v1/work-orders/${t.orderId}/price-acceptances`, { by: 'X', amountMinor: 1, acceptedAt: at }),
  ).toBe(403);
  expect(await post('/v1/notes', { siteId: t.own.siteId, text: 'x', notedAt: at })).toBe(403);
  expect((await t.as(stranger, 'GET', `/v1/notes?siteId=${t.own.siteId}`)).status).toBe(404);
});

test('a line found on site is unconfirmed until the office says so; a quote taken on site meets its precondition', async () => {
  const foundAt = '2026-10-01T16:10:00Z';
  const made = await t.as(key, 'POST', `/v1/work-orders/${t.orderId}/found-lines`, {
    foundAt,
    name: 'Stair drain',
    lineKind: 'floor_drain',
    length: { value: 12, unit: 'ft' },
  });
  expect(made.body).toMatchObject({ unconfirmed: true, addedBy: 'Tern', drainsTo: 'unknown' });
  const patched = await t.call('dispatcher', {
    method: 'PATCH',
    url: `/v1/lines/${made.body.id}`,
    headers: { 'if-match': `"${made.body.version}"` },
    payload: { unconfirmed: false },
  });
  expect(patched.body.unconfirmed).toBe(false);

  const order = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/work-orders',
    payload: {
      siteId: t.own.siteId,
      because: 'an outlet to replace',
      priceBasis: 'quote',
      tasks: [{ kind: 'clear_outlet', lineId: t.own.lineId }],
    },
  });
  const at = '2026-10-01T16:20:00Z';
  const price = {
    kind: 'price_acceptance',
    id: randomUUID(),
    at,
    workOrderId: order.body.id,
    by: 'Ines Calder',
  };
  // Work of the office alone is nobody's on site; what came of a visit at the house is.
  expect((await one({ ...price, id: randomUUID(), amountMinor: 42_000 })).outcome).toBe('refused');
  await t.pool.query("UPDATE work_order SET cause = 'follow_up' WHERE id = $1", [order.body.id]);
  expect((await one({ ...price, amountMinor: 42_000 })).outcome).toBe('accepted');
  const whole = await t.call('owner', { method: 'GET', url: `/v1/work-orders/${order.body.id}` });
  expect(whole.body.priceMinor).toBe(42_000);
  expect(whole.body.waitsFor.find((each: Json) => each.kind === 'quote_accepted').state).toBe('met');
});

test('a call of nothing, of too much or without the device’s clock is refused whole', async () => {
  for (const body of [
    { items: [look()] },
    { sentAt: NOW, items: [] },
    { sentAt: NOW, items: Array.from({ length: 501 }, () => look()) },
    { sentAt: 'yesterday', items: [look()] },
  ])
    expect((await t.as(key, 'POST', '/v1/sync', body)).status).toBe(400);
  const { status } = await t.call('integration', {
    method: 'POST',
    url: '/v1/sync',
    payload: { sentAt: NOW, items: [look()] },
  });
  expect(status).toBe(403);
});
