import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: SyncedHouse;

beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const sync = (items: unknown[]) => t.sync(items);
const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();
const item = (kind: string, minute: number, more: object) => ({
  kind,
  id: randomUUID(),
  at: at(minute),
  workOrderId: t.orderId,
  ...more,
});
const start = () => item('start', 0, {});
const found = (...pricesMinor: number[]) =>
  item('found_work', 10, {
    tasks: pricesMinor.map((priceMinor, i) => ({
      id: randomUUID(),
      kind: i === 0 ? 'hose_flush' : 'survey',
      lineId: t.own.lineId,
      priceMinor,
    })),
  });
const price = (amountMinor: number, more: object) =>
  item('price_acceptance', 12, { by: 'Ines Calder', amountMinor, ...more });
const finish = (after: { id: string }[]) =>
  item('finish', 50, {
    after: after.map(({ id }) => id),
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  });
const order = async () => t.house.stores.rows.get('work_order', t.orderId);
const outcomes = (answers: Json[]) => answers.map(({ outcome }) => outcome);

test.each([
  ['as it happened', false],
  ['turned round', true],
])('a price without a task that comes after found work is that work’s price, told %s', async (_, turned) => {
  const [begun, work] = [start(), found(9500)];
  const yes = price(9500, { after: [work.id] });
  const sent = [begun, work, yes, finish([begun, work, yes])];
  expect(outcomes(await sync(turned ? sent.reverse() : sent))).toEqual(Array(4).fill('accepted'));
  const [task] = (work as Json).tasks;
  expect(await t.house.stores.rows.get('work_order_task', task.id)).toMatchObject({
    price_minor: 9500,
    accepted_by: 'Ines Calder',
    accepted_at: at(12),
  });
  // The order's own price is another.
  expect(await order()).toMatchObject({ state: 'done', price_minor: null });
});

test('a price of several found things is their sum, or is refused at once', async () => {
  const [begun, work] = [start(), found(9500, 4000)];
  const wrong = price(9000, { after: [work.id] });
  const [, waiting, refused] = await sync([begun, work, wrong]);
  expect(refused).toMatchObject({
    outcome: 'refused',
    problem: { status: 422, errors: [{ pointer: '#/amountMinor' }] },
  });
  const [first] = (work as Json).tasks;
  expect(waiting).toMatchObject({ outcome: 'waiting', waitsFor: [`price:${first.id}`, expect.any(String)] });
  expect(outcomes(await sync([{ ...wrong, amountMinor: 13_500 }, work]))).toEqual(['accepted', 'accepted']);
  expect(await t.house.stores.rows.get('work_order_task', first.id)).toMatchObject({ price_minor: 9500 });
});

test('what waits says in a sentence what is missing', async () => {
  const [begun, work] = [start(), found(9500)];
  const [, waiting] = await sync([begun, work]);
  const [task] = (work as Json).tasks;
  expect(waiting.text).toContain(`a price_acceptance with taskId ${task.id}`);
  expect(waiting.text).toContain('with this item among its after');
  const listed = await t.as(t.key, 'GET', '/v1/sync-items?state=waiting');
  expect(listed.body.items[0].text).toBe(waiting.text);
});

test('an item that is not right is on record as refused: it can be given up, and what waits for it says so', async () => {
  const begun = start();
  const wrong = item('found_work', 10, { tasks: [{ kind: 'hose_flush', lineId: t.own.lineId }] });
  const end = finish([begun, wrong]);
  const [, held, answer] = await sync([begun, end, wrong]);
  expect(answer).toMatchObject({ outcome: 'refused', problem: { status: 400 } });
  expect(answer.problem.errors[0].pointer).toBe('#/tasks/0/id');
  expect(held).toMatchObject({ outcome: 'waiting', waitsFor: [`item:${wrong.id}`] });
  expect(held.text).toContain('put right or given up where it was refused');
  const refused = await t.call('dispatcher', { method: 'GET', url: '/v1/sync-items?state=refused' });
  expect(refused.body.items).toMatchObject([
    { id: wrong.id, workOrderId: t.orderId, problem: { errors: [{ pointer: '#/tasks/0/id' }] } },
  ]);
  // Wrong again otherwise, the later problem is on record.
  expect((await sync([{ ...wrong, tasks: 'none' }]))[0].problem.errors[0].pointer).toBe('#/tasks');
  const now = await t.as(t.key, 'GET', '/v1/sync-items?state=refused');
  expect(now.body.items[0].problem.errors[0].pointer).toBe('#/tasks');
  const given = await t.as(t.key, 'POST', `/v1/sync-items/${wrong.id}/withdrawal`, { because: 'a slip' });
  expect(given.status, JSON.stringify(given.body)).toBe(200);
  expect(await order()).toMatchObject({ state: 'done' });
});
