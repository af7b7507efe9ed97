import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';

let t: RoutedHouse;
let key: string;
let order: string;
beforeEach(async () => {
  // Thursday 22:00 in Chicago; the order is on no route.
  t = await routedHouse('2026-10-01', '2026-10-02T03:00:00Z');
  key = await t.keyOf('Tern');
  order = t.foreignOrderId;
  await t.pool.query(
    `UPDATE work_order SET state = 'wanted', cause = 'call', respond_by = '2026-10-02T05:00:00Z',
            because_of = '[{"code": "water_rising", "facts": {}, "text": "water rising"}]' WHERE id = $1`,
    [order],
  );
  await t.house.stores.rows.insert('work_order_task', {
    id: randomUUID(),
    work_order_id: order,
    position: 1,
    kind: 'test_pump',
    pit_id: t.foreign.pitId,
    minutes: 15,
  });
}, 60_000);

const callOut = (more: object = {}) =>
  t.call('dispatcher', {
    method: 'POST',
    url: '/v1/call-outs',
    payload: { memberId: t.memberId, workOrderId: order, calledAt: '2026-10-02T03:00:00Z', ...more },
  });
const start = { startedAt: '2026-10-02T03:00:00Z', cautionsSeen: true };

test('who is called out at night sees the order with all that is needed on site, and works on it', async () => {
  expect((await t.as(key, 'GET', `/v1/work-orders/${order}`)).status).toBe(404);
  expect((await t.as(key, 'POST', `/v1/work-orders/${order}/start`, start)).status).toBe(403);
  expect((await t.as(key, 'GET', '/v1/own-call-outs')).body.items).toEqual([]);
  expect((await callOut()).status).toBe(201);

  expect((await t.as(key, 'GET', `/v1/work-orders/${order}`)).body).toMatchObject({ id: order });
  const [own, ...more] = (await t.as(key, 'GET', '/v1/own-call-outs')).body.items;
  expect(more).toEqual([]);
  expect(own).toMatchObject({
    calledAt: '2026-10-02T03:00:00.000Z',
    backAt: null,
    site: { id: t.foreign.siteId, address: '2 Marsh Gate', accessPoints: [], notes: [] },
    workOrder: { id: order, tasks: [{ kind: 'test_pump' }], hindrances: [] },
  });
  const codes = (items: { code: string }[]) => items.map(({ code }) => code);
  expect(codes(own.workOrder.cautions)).toContain('flooded_basement');
  const cautions = await t.as(key, 'GET', `/v1/work-orders/${order}/cautions`);
  expect(codes(cautions.body.items)).toContain('flooded_basement');

  const sync = await t.as(key, 'POST', '/v1/sync', {
    sentAt: '2026-10-02T03:00:00Z',
    items: [{ id: randomUUID(), kind: 'start', at: start.startedAt, workOrderId: order, cautionsSeen: true }],
  });
  expect(sync.status, JSON.stringify(sync.body)).toBe(200);
  expect(sync.body.items, JSON.stringify(sync.body)).toMatchObject([{ outcome: 'accepted' }]);
  expect((await t.as(key, 'GET', `/v1/work-orders/${order}`)).body.state).toBe('under_way');
}, 60_000);

test('what has to be met first is said; another person’s call-out and one long over open nothing', async () => {
  await t.house.stores.rows.insert('precondition', {
    id: randomUUID(),
    work_order_id: order,
    kind: 'made_safe',
  });
  const other = randomUUID();
  await t.house.stores.rows.insert('member', { id: other, name: 'Rail' });
  await callOut({ memberId: other });
  expect((await t.as(key, 'GET', `/v1/work-orders/${order}`)).status).toBe(404);
  await callOut({ calledAt: '2026-10-02T03:00:00Z', backAt: '2026-10-02T03:00:00Z' });
  const [own] = (await t.as(key, 'GET', '/v1/own-call-outs')).body.items;
  expect(own.workOrder.hindrances).toMatchObject([
    { code: 'precondition_open', facts: { kind: 'made_safe' } },
  ]);
  await t.pool.query(`UPDATE precondition SET state = 'met', met_by = 'gas company', met_at = now()`);
  // Back on Thursday night: on Sunday the house is not theirs to work on any more, still theirs to read.
  t.clock.at = new Date('2026-10-04T14:00:00Z');
  const late = { ...start, startedAt: '2026-10-04T14:00:00Z' };
  expect((await t.as(key, 'POST', `/v1/work-orders/${order}/start`, late)).status).toBe(403);
  expect((await t.as(key, 'GET', `/v1/work-orders/${order}`)).status).toBe(200);
}, 60_000);
