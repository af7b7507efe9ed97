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

/** Orders at the house but the visit's own, with what they are for and since when they wait for gas. */
async function othersAtHouse(): Promise<Json[]> {
  const { items } = await ofOwner(`/v1/work-orders?siteId=${t.own.siteId}`);
  const others = items.filter(({ id, state }: Json) => id !== t.orderId && state !== 'withdrawn');
  const said: Json[] = [];
  for (const { id } of others) {
    const { cause, state, becauseOf, tasks, waitsFor } = await ofOwner(`/v1/work-orders/${id}`);
    const safe = waitsFor.find(({ kind }: Json) => kind === 'made_safe');
    said.push({
      cause,
      state,
      because: becauseOf.map(({ code }: Json) => code),
      tasks: tasks.map(({ kind }: Json) => kind),
      heldSince: safe?.facts.since,
    });
  }
  return said;
}

test.each(ORDERS)(
  'an end from before the gas stands, whenever it is heard of: done, told as %i %i %i',
  async (...told) => {
    const begun = item('start', 0);
    const plug = item('inspection', 5, {
      lineId: t.own.lineId,
      phase: 'no_cleaning',
      plugged: { cause: 'deposit', seenBy: 'camera' },
    });
    const gas = item('danger', 30, { danger: 'gas_smell' });
    const sent = [begun, gas, finish(20, [begun, plug], { flowProven: 'no' })];
    await t.sync([plug]);
    for (const i of told) await t.sync([sent[i]]);
    expect([await itemsBy('waiting'), await itemsBy('conflict')]).toEqual([[], []]);
    const { state, attempts, waitsFor, tasks } = await order();
    expect([state, waitsFor]).toEqual(['done', []]);
    expect(attempts).toMatchObject([{ result: 'done', reason: null, endedAt: at(20), flowProven: 'no' }]);
    expect(tasks).toMatchObject([{ kind: 'inspect', result: 'done' }]);
    const { items } = await ofOwner('/v1/incidents');
    expect(items.map(({ happenedAt }: Json) => happenedAt)).toEqual([at(30)]);
    // A plug nobody works on: the jet comes next, and waits for the gas as all else at the house.
    expect(await othersAtHouse()).toEqual([
      { cause: 'plugged', state: 'wanted', because: ['plugged'], tasks: ['jet'], heldSince: at(30) },
    ]);
    const ends = (await ofOwner('/v1/events?type=work_finished')).items.map(({ facts }: Json) => facts);
    expect(ends.find(({ endedAt }: Json) => endedAt === at(20))).toMatchObject({ result: 'done' });
  },
);

test.each(ORDERS)('so does one that was not done, told as %i %i %i', async (...told) => {
  const begun = item('start', 0);
  const stop = item('danger', 8, { danger: 'hard_stop', lineId: t.own.lineId });
  const gas = item('danger', 30, { danger: 'gas_smell' });
  const sent = [begun, gas, finish(20, [begun, stop], { result: 'not_done', reason: 'kit' })];
  await t.sync([stop]);
  for (const i of told) await t.sync([sent[i]]);
  expect([await itemsBy('waiting'), await itemsBy('conflict')]).toEqual([[], []]);
  const { state, attempts, waitsFor, tasks } = await order();
  expect(state).toBe('wanted');
  expect(attempts).toMatchObject([{ result: 'not_done', reason: 'kit', endedAt: at(20) }]);
  expect(waitsFor.filter(({ kind }: Json) => kind === 'made_safe')).toMatchObject([
    { state: 'open', facts: { since: at(30) } },
  ]);
  expect(tasks).toMatchObject([{ kind: 'inspect', result: null }]);
});

test('what was made safe meanwhile stays so when an end from before the gas is heard of', async () => {
  const begun = item('start', 0);
  await t.sync([begun, item('danger', 30, { danger: 'gas_smell' })]);
  const [{ id }] = (await order()).waitsFor;
  const safe = await t.call('owner', {
    method: 'PATCH',
    url: `/v1/preconditions/${id}`,
    payload: { state: 'met', facts: { by: 'gas company', at: at(50) } },
    headers: { 'if-match': '*' },
  });
  expect(safe.status, safe.text).toBe(200);
  const [end] = await t.sync([finish(20, [begun])]);
  expect(end.outcome).toBe('accepted');
  const { state, waitsFor } = await order();
  expect(state).toBe('done');
  expect(waitsFor).toMatchObject([{ kind: 'made_safe', state: 'met' }]);
});

test.each(ORDERS)(
  'what was said between two who met the gas is of the visit, told as %i %i %i',
  async (...told) => {
    const [task] = (await order()).tasks;
    const sent = [
      item('danger', 30, { danger: 'gas_meter' }),
      item('danger', 33, { danger: 'gas_smell' }),
      item('task_result', 32, { taskId: task.id, result: 'done' }),
    ];
    await t.sync([item('start', 0)]);
    for (const i of told) expect((await t.sync([sent[i]]))[0].outcome).toBe('accepted');
    const { state, attempts, tasks } = await order();
    expect(state).toBe('wanted');
    expect(attempts).toMatchObject([{ reason: 'gas', endedAt: at(30) }]);
    expect(tasks).toMatchObject([{ result: 'done' }]);
  },
);

test.each([
  [0, 1, 2, 3],
  [3, 2, 1, 0],
  [2, 0, 1, 3],
  [2, 3, 0, 1],
  [1, 3, 2, 0],
  [3, 0, 2, 1],
])(
  'a word on a task from after the end names the end, and is a conflict with gas met later too, told as %i %i %i %i',
  async (...told) => {
    const [task] = (await order()).tasks;
    const begun = item('start', 0);
    const end = finish(20, [begun]);
    const word = item('task_result', 25, {
      taskId: task.id,
      result: 'not_done',
      reason: 'out_of_time',
      after: [end.id],
    });
    const sent = [begun, end, word, item('danger', 30, { danger: 'gas_smell' })];
    for (const i of told) await t.sync([sent[i]]);
    expect([await itemsBy('waiting'), await itemsBy('conflict')]).toEqual([[], [word.id]]);
    const { state, attempts, tasks } = await order();
    expect(state).toBe('done');
    expect(attempts).toMatchObject([{ result: 'done', endedAt: at(20) }]);
    expect(tasks[0]).toMatchObject({ id: task.id, result: 'done' });
  },
  60_000,
);
