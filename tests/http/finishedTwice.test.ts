import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: SyncedHouse;
const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();

beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const sync = (items: unknown[]) => t.sync(items);
const start = () => ({ kind: 'start', id: randomUUID(), at: at(0), workOrderId: t.orderId });
const done = (after: string[], minute = 50) => ({
  kind: 'finish',
  id: randomUUID(),
  at: at(minute),
  workOrderId: t.orderId,
  after,
  result: 'done',
  flowProven: 'yes',
  water: { receiver: 'own_ground', place: 'lawn' },
});
const officeEnds = (end: object) =>
  t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${t.orderId}/finish`,
    payload: { endedAt: at(30), ...end },
  });
const conflicts = async (): Promise<Json[]> =>
  (await t.call('owner', { method: 'GET', url: `/v1/conflicts?resourceId=${t.orderId}` })).body.items;

test('the office ends a visit otherwise than an end that a phone sent and that waits: it is a conflict at once', async () => {
  const [begun, lost] = [start(), randomUUID()];
  const end = done([begun.id, lost]);
  expect((await sync([begun, end]))[1]).toMatchObject({ outcome: 'waiting', waitsFor: [`item:${lost}`] });
  const { status, body } = await officeEnds({ result: 'not_done', reason: 'no_one_home' });
  expect(status, JSON.stringify(body)).toBe(200);
  expect(body).toMatchObject({ state: 'wanted', conflictIds: [end.id] });
  expect(await conflicts()).toMatchObject([
    { id: end.id, author: 'Tern', content: { result: 'done', flowProven: 'yes' }, settledAt: null },
  ]);
  expect((await conflicts())[0].because).toContain(
    'dispatcher ended the visit otherwise meanwhile: not done, no one home',
  );
  expect((await sync([end]))[0]).toMatchObject({ outcome: 'conflict', problem: { status: 409 } });
  expect((await t.as(t.key, 'GET', '/v1/sync-items?state=waiting')).body.items).toEqual([]);
});

test('one that says the same is taken out', async () => {
  const begun = start();
  const end = done([begun.id, randomUUID()]);
  await sync([begun, end]);
  const { body } = await officeEnds({
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  });
  expect(body).toMatchObject({ state: 'done', conflictIds: [] });
  expect((await sync([end]))[0].outcome).toBe('withdrawn');
  expect(await conflicts()).toEqual([]);
});

test('an end that comes after the office ended the visit earlier does not wait for another start', async () => {
  const begun = start();
  await sync([begun]);
  expect((await officeEnds({ result: 'not_done', reason: 'no_one_home' })).body.conflictIds).toEqual([]);
  const end = done([begun.id]);
  expect((await sync([end]))[0]).toMatchObject({ outcome: 'conflict', waitsFor: [] });
  expect(await conflicts()).toMatchObject([{ id: end.id, content: { result: 'done' } }]);
  // The end of a visit whose start has not come waits: it may be of the next one.
  const next = done([randomUUID()]);
  expect((await sync([next]))[0].outcome).toBe('waiting');
});
