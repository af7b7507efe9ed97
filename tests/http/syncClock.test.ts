import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { SENT_AT, type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';

/** A phone whose clock was wrong on site and set itself right when it had reach again. */
let t: SyncedHouse;

beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const note = (at: string, more: object = {}) => ({
  kind: 'note',
  id: randomUUID(),
  at,
  siteId: t.own.siteId,
  text: 'gate',
  ...more,
});
const notedAt = async (id: string) => (await t.as(t.key, 'GET', `/v1/notes/${id}`)).body.notedAt;
/** Exactly a year of 365 days. */
const YEAR_S = 365 * 86_400;

test('a time that cannot be right is refused with the clock as likely cause, and mended under its id', async () => {
  const yearBehind = note('2025-10-01T14:05:00Z');
  const hoursAhead = note('2026-10-01T22:30:00Z');
  const [behind, ahead] = await t.sync([yearBehind, hoursAhead]);
  expect(behind).toMatchObject({ outcome: 'refused', problem: { status: 403 } });
  expect(behind.problem.detail).toMatch(
    /on 2025-10-01.*send it again under its id with deviceClockOffsetSeconds/,
  );
  expect(ahead).toMatchObject({ outcome: 'refused', problem: { errors: [{ pointer: '#/at' }] } });
  expect(ahead.problem.errors[0].remedy).toContain('deviceClockOffsetSeconds');

  const mended = [
    { ...yearBehind, deviceClockOffsetSeconds: -YEAR_S },
    { ...hoursAhead, deviceClockOffsetSeconds: 8 * 3600 },
  ];
  expect((await t.sync(mended)).map(({ outcome }) => outcome)).toEqual(['accepted', 'accepted']);
  expect(await notedAt(yearBehind.id)).toBe('2026-10-01T14:05:00.000Z');
  expect(await notedAt(hoursAhead.id)).toBe('2026-10-01T14:30:00.000Z');
  expect((await t.sync(mended)).map(({ outcome }) => outcome)).toEqual(['same', 'same']);
  const { body } = await t.as(t.key, 'GET', '/v1/sync-items?sort=happenedAt');
  expect(
    body.items.map(({ clockOffsetSeconds }: { clockOffsetSeconds: number }) => clockOffsetSeconds),
  ).toEqual([-YEAR_S, 8 * 3600]);
});

test('what an item says of its own clock counts before that of the call, also for a start and for other times in it', async () => {
  const start = {
    kind: 'start',
    id: randomUUID(),
    at: '2026-10-01T13:00:00Z',
    workOrderId: t.orderId,
    deviceClockOffsetSeconds: -3600,
  };
  const work = {
    kind: 'found_work',
    id: randomUUID(),
    at: '2026-10-01T13:10:00Z',
    workOrderId: t.orderId,
    deviceClockOffsetSeconds: -3600,
    tasks: [{ id: randomUUID(), kind: 'survey', lineId: t.own.lineId, priceMinor: 100 }],
    accepted: { by: 'Ines Calder', at: '2026-10-01T13:12:00Z' },
  };
  const right = note('2026-10-01T15:30:00Z', { deviceClockOffsetSeconds: 0 });
  // The clock is an hour ahead at sending; only what says nothing of itself goes by that.
  const plain = note('2026-10-01T15:40:00Z');
  const answer = await t.as(t.key, 'POST', '/v1/sync', {
    sentAt: new Date(Date.parse(SENT_AT) + 3_600_000).toISOString(),
    items: [work, start, right, plain],
  });
  expect(answer.body.items.map(({ outcome }: { outcome: string }) => outcome)).toEqual(
    Array(4).fill('accepted'),
  );
  const order = await t.call('owner', { method: 'GET', url: `/v1/work-orders/${t.orderId}` });
  expect(order.body.attempts).toMatchObject([{ startedAt: '2026-10-01T14:00:00.000Z' }]);
  const task = await t.house.stores.rows.get('work_order_task', String(work.tasks[0]?.id));
  expect(task).toMatchObject({ accepted_at: '2026-10-01T14:12:00.000Z' });
  expect([await notedAt(right.id), await notedAt(plain.id)]).toEqual([
    '2026-10-01T15:30:00.000Z',
    '2026-10-01T14:40:00.000Z',
  ]);
  // Another offset is another content.
  const [other] = await t.sync([{ ...right, deviceClockOffsetSeconds: 60 }]);
  expect(other.outcome).toBe('conflict');
});

test('who began a visit in the evening of the last day with a crew ends it, past midnight in UTC', async () => {
  t.clock.at = new Date('2026-10-02T02:00:00Z');
  const { rows } = t.house.stores;
  const [membership] = await rows.all('crew_membership', [
    { column: 'member_id', is: '=', value: t.memberId },
  ]);
  // Until the end of 1 October, in Chicago; 19:30 there is 0:30 on the 2nd in UTC.
  await rows.update('crew_membership', String(membership?.['id']), { to_day: '2026-10-02' });
  const url = (what: string) => `/v1/work-orders/${t.orderId}/${what}`;
  const begun = await t.as(t.key, 'POST', url('start'), { startedAt: '2026-10-02T00:30:00Z' });
  expect(begun.status, JSON.stringify(begun.body)).toBe(200);
  await rows.update('route', t.routeId, { state: 'replaced' });
  const end = { flowProven: 'yes', water: { receiver: 'own_ground' }, result: 'done' };
  const ended = await t.as(t.key, 'POST', url('finish'), { endedAt: '2026-10-02T01:10:00Z', ...end });
  expect(ended.status, JSON.stringify(ended.body)).toBe(200);
});
