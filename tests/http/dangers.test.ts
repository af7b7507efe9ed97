import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { DANGER_KINDS, type TASK_KINDS } from '../../src/domain/words.js';
import { oneTaps } from '../../src/domain/work/oneTap.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

/** What stops the work at once: a hard stop in the line, gas. */
let t: RoutedHouse;
let key: string;
const NOW = '2026-10-01T20:00:00Z';

beforeAll(async () => {
  t = await routedHouse('2026-10-01', NOW);
  key = await t.keyOf('Tern');
  const { rows } = t.house.stores;
  await rows.update('line', t.own.lineId, { drains_to: 'pit', drains_to_pit_id: t.own.pitId });
  await rows.insert('work_order_task', {
    id: randomUUID(),
    work_order_id: t.orderId,
    position: 1,
    kind: 'jet',
    minutes: 30,
    plan: {},
    line_id: t.own.lineId,
  });
}, 60_000);

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.as(key, 'POST', url, payload);
  expect(answer.status, `${url} ${JSON.stringify(answer.body)}`).toBe(status);
  return answer.body;
}
const ofOwner = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
const order = () => ofOwner(`/v1/work-orders/${t.orderId}`);
const start = (startedAt: string, status = 200) =>
  post(`/v1/work-orders/${t.orderId}/start`, { startedAt, cautionsSeen: true }, status);
const danger = (payload: object, status = 201) =>
  post(`/v1/work-orders/${t.orderId}/dangers`, payload, status);
const finish = (endedAt: string, more: object, status = 200) =>
  post(
    `/v1/work-orders/${t.orderId}/finish`,
    {
      endedAt,
      result: 'done',
      flowProven: 'yes',
      water: { receiver: 'caught', sludgeTo: 'depot' },
      pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
      ...more,
    },
    status,
  );
const pointersOf = (body: Json): string[] => body.errors.map((fault: Json) => fault.pointer);

test('each danger is offered as one tap where something goes into a line or the ground', () => {
  const offered = (task: (typeof TASK_KINDS)[number]) =>
    oneTaps(task)
      .filter(({ field }) => field === 'danger.danger')
      .flatMap(({ choices }) => choices?.map(({ value }) => value) ?? []);
  for (const task of ['hose_flush', 'jet', 'cable', 'trace'] as const)
    expect(offered(task).sort(), task).toEqual([...DANGER_KINDS].sort());
  expect(offered('dig_and_replace')).toEqual(['gas_smell', 'gas_meter']);
  expect(offered('inspect')).toEqual([]);
});

test('after a hard stop nothing but a camera goes into the line', async () => {
  await start('2026-10-01T13:00:00Z');
  const bare = await danger({ danger: 'hard_stop', metAt: '2026-10-01T13:10:00Z' }, 422);
  expect(pointersOf(bare)).toEqual(['#/lineId']);
  const foreign = { danger: 'hard_stop', metAt: '2026-10-01T13:10:00Z', lineId: t.foreign.lineId };
  expect(pointersOf(await danger(foreign, 422))).toEqual(['#/lineId']);
  const stopped = { value: 12, unit: 'ft' };
  const met = await danger({ ...foreign, lineId: t.own.lineId, stopped });
  expect(met.orderState).toBe('under_way');
  // 12 ft are 3.66 m
  expect(met.stopped.value).toBeCloseTo(3.66, 2);
  expect(met.doNow.map((each: Json) => each.text).join(' ')).toMatch(
    /nothing is forced, turned or cut.*camera/,
  );
  const refused = await finish('2026-10-01T13:50:00Z', {}, 422);
  expect(refused.errors).toMatchObject([
    { pointer: '#/tasks', remedy: expect.stringContaining('a camera first') },
  ]);
  await post('/v1/inspections', {
    lineId: t.own.lineId,
    observedAt: '2026-10-01T13:30:00Z',
    phase: 'before_cleaning',
    reading: { method: 'camera', share: 0.3 },
  });
});

test('gas ends the visit without a word on pump, flow or water, is an incident, and waits until made safe', async () => {
  const met = await danger({
    id: '019abcde-0000-7000-8000-00000000aa01',
    danger: 'gas_meter',
    metAt: '2026-10-01T13:40:00Z',
  });
  expect(met.orderState).toBe('wanted');
  const texts = met.doNow.map((each: Json) => each.text);
  expect(texts[0]).toContain('Everybody out');
  expect(texts.join(' ')).toMatch(/Switch nothing on or off.*From outside.*emergency number.*gas utility/);
  for (const { source } of met.doNow) expect(source).toContain('local codes');
  const again = {
    id: '019abcde-0000-7000-8000-00000000aa01',
    danger: 'gas_meter',
    metAt: '2026-10-01T13:40:00Z',
  };
  expect((await danger(again)).id).toBe(met.id);

  const now = await order();
  expect(now.attempts.at(-1)).toMatchObject({
    result: 'not_done',
    reason: 'gas',
    billed: 'no',
  });
  expect(now.waitsFor).toMatchObject([{ kind: 'made_safe', state: 'open', facts: { because: 'gas' } }]);
  expect(now.tasks.map((task: Json) => task.result)).toEqual([null]);
  const { items } = await ofOwner('/v1/incidents');
  const incident = items.find((each: Json) => each.workOrderId === t.orderId);
  expect(incident.kind).toBe('gas');
  expect(incident.tell.map((each: Json) => each.who)).toEqual(
    expect.arrayContaining(['gas utility', 'emergency service, from a distance; nobody goes back in']),
  );
  const refused = await start('2026-10-01T14:30:00Z', 422);
  expect(refused.errors[0].detail).toContain('made_safe');
});

test('gas smelled before anything began keeps the visit from beginning, also by sync', async () => {
  const id = randomUUID();
  await t.house.stores.rows.insert('work_order', {
    id,
    site_id: t.own.siteId,
    cause: 'due',
    minutes: 60,
    state: 'wanted',
  });
  const items = [
    { kind: 'danger', id: randomUUID(), at: '2026-10-01T15:00:00Z', workOrderId: id, danger: 'gas_smell' },
  ];
  const sent = await t.as(key, 'POST', '/v1/sync', { sentAt: NOW, items });
  expect(sent.body.items).toMatchObject([{ outcome: 'accepted' }]);
  const { waitsFor, state } = await ofOwner(`/v1/work-orders/${id}`);
  expect([state, waitsFor[0].kind, waitsFor[0].state]).toEqual(['wanted', 'made_safe', 'open']);
  // The other order of the house waits once, the one of another house not at all.
  const open = (each: Json) => each.waitsFor.filter(({ kind }: Json) => kind === 'made_safe').length;
  expect(open(await order())).toBe(1);
  expect(open(await ofOwner(`/v1/work-orders/${t.foreignOrderId}`))).toBe(0);
});
