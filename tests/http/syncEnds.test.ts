import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { endWaiting } from '../../src/actions/sync/endWaiting.js';
import { type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';
import type { Json } from '../setup/testHouse.js';

/** Nothing waits for ever: after the days the owner set, and where gas ended the visit, it ends one way in any order. */
let t: SyncedHouse;

beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();
const item = (kind: string, minute: number, more: object = {}) => ({
  kind,
  id: randomUUID(),
  at: at(minute),
  workOrderId: t.orderId,
  ...more,
});
const finish = (minute: number, after: { id: string }[], more: object = {}) =>
  item('finish', minute, {
    after: after.map(({ id }) => id),
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
    ...more,
  });
const ofOwner = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
const order = () => ofOwner(`/v1/work-orders/${t.orderId}`);
const itemsBy = async (state: string): Promise<string[]> =>
  (await ofOwner(`/v1/sync-items?state=${state}`)).items.map(({ id }: Json) => id);
/** Days after the items came. */
const later = (days: number) => {
  t.clock.at = new Date(Date.parse('2026-10-01T20:00:00Z') + days * 86_400_000);
};

test('what waits fourteen days becomes a conflict that the office hears of; what waited for it goes on', async () => {
  const begun = item('start', 0);
  const lost = item('clean', 20, { lineId: randomUUID(), task: 'jet', flowProven: 'yes' });
  const end = finish(50, [begun, lost]);
  await t.sync([end, lost, begun]);
  later(13.9);
  expect(await endWaiting(t.house, 'night')).toBe(0);
  expect((await itemsBy('waiting')).sort()).toEqual([lost.id, end.id].sort());
  later(14.1);
  expect(await endWaiting(t.house, 'night')).toBe(1);
  expect(await endWaiting(t.house, 'night')).toBe(0);
  expect(await itemsBy('conflict')).toEqual([lost.id]);
  expect((await order()).state).toBe('done');
  const [conflict] = (await ofOwner('/v1/conflicts?settled=false')).items;
  expect(conflict).toMatchObject({ id: lost.id, author: 'Tern', content: { kind: 'clean' } });
  expect(conflict.because).toMatch(/waited 14 days\. Waits for line .*, which is not on record/);
  expect((await ofOwner('/v1/events?type=sync_waiting')).items).toMatchObject([
    {
      subjectId: lost.id,
      text: "1 item from Tern's app, the oldest of 2026-10-01, waited 14 days for what did not come: see the conflicts, and ask Tern.",
    },
  ]);
  // What it waited for comes after all: the item stays with the office.
  expect((await t.sync([lost]))[0].outcome).toBe('conflict');
});

test('the days are the owner’s; two that wait for one another do not wait for ever', async () => {
  const patched = await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    payload: { keeping: { waitingDays: 3 } },
    headers: { 'if-match': '*' },
  });
  expect(patched.status, patched.text).toBe(200);
  const note = (minute: number, text: string) => item('note', minute, { siteId: t.own.siteId, text });
  const [one, other] = [note(1, 'gate'), note(2, 'dog')];
  await t.sync([
    { ...other, after: [one.id] },
    { ...one, after: [other.id] },
  ]);
  later(3.1);
  expect(await endWaiting(t.house, 'night')).toBe(1);
  expect([await itemsBy('conflict'), await itemsBy('accepted')]).toEqual([[one.id], [other.id]]);
});

const ORDERS = [
  [0, 1, 2],
  [2, 1, 0],
  [1, 0, 2],
  [1, 2, 0],
  [2, 0, 1],
  [0, 2, 1],
];

test.each(ORDERS)(
  'an end told after gas ended its visit is a conflict, told as %i %i %i',
  async (...told) => {
    const begun = item('start', 0);
    const gas = item('danger', 30, { danger: 'gas_smell' });
    const sent = [begun, gas, finish(40, [begun, gas])];
    for (const i of told) await t.sync([sent[i]]);
    expect(await itemsBy('waiting')).toEqual([]);
    expect(await itemsBy('conflict')).toEqual([sent[2]?.id]);
    const { state, attempts } = await order();
    expect(state).toBe('wanted');
    expect(attempts).toMatchObject([{ result: 'not_done', reason: 'gas', endedAt: at(30) }]);
  },
);

test('so is one that names no start; one that says what the gas did is taken', async () => {
  const begun = item('start', 0);
  const gas = item('danger', 30, { danger: 'gas_smell' });
  await t.sync([begun, gas]);
  const [bare] = await t.sync([finish(40, [gas])]);
  expect(bare).toMatchObject({ outcome: 'conflict', problem: { status: 409 } });
  const left = { result: 'not_done', reason: 'gas' };
  const [same] = await t.sync([item('finish', 41, { after: [begun.id, gas.id], ...left })]);
  expect(same.outcome).toBe('accepted');
  expect((await order()).attempts).toHaveLength(1);
});

test.each(ORDERS)(
  'gas told of by two: the earlier moment ended the visit, told as %i %i %i',
  async (...told) => {
    const sent = [
      item('start', 0),
      item('danger', 30, { danger: 'gas_meter', note: 'by the stair' }),
      item('danger', 33, { danger: 'gas_smell' }),
    ];
    for (const i of told) expect((await t.sync([sent[i]]))[0].outcome).toBe('accepted');
    const { state, attempts, waitsFor } = await order();
    expect(state).toBe('wanted');
    expect(attempts).toMatchObject([
      { reason: 'gas', endedAt: at(30), note: expect.stringMatching(/gas meter alarms.*by the stair/) },
    ]);
    expect(waitsFor).toMatchObject([{ kind: 'made_safe', state: 'open', facts: { since: at(30) } }]);
    const { items } = await ofOwner('/v1/incidents');
    expect(items.map(({ happenedAt }: Json) => happenedAt).sort()).toEqual([at(30), at(33)]);
  },
);
