import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { kindsOf, m, type PitHouse, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** Something stopped in a line and may be a gas line: only a camera into that line clears it. */
let t: WorkedHouse;

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
}, 60_000);

const DAY = '2026-06-01';
const look = (lineId: string, observedAt: string, more: object) =>
  t.send('/v1/inspections', { lineId, observedAt: t.at(observedAt), phase: 'no_cleaning', ...more });

/** A jet of the footing drain that stopped hard at 4 m and went home. */
async function stoppedHard(): Promise<{ house: PitHouse; jet: Json }> {
  const house = await t.build();
  const jet = await t.order(house, [{ kind: 'jet', lineId: house.footing.id }]);
  await t.begin(jet, `${DAY}T14:00:00Z`);
  await t.send(`/v1/work-orders/${jet.id}/dangers`, {
    danger: 'hard_stop',
    metAt: t.at(`${DAY}T14:10:00Z`),
    lineId: house.footing.id,
    stopped: m(4),
  });
  return { house, jet };
}
const goHome = (jet: Json) =>
  t.finish(jet, `${DAY}T14:30:00Z`, {
    result: 'not_done',
    reason: 'out_of_time',
    flowProven: null,
    water: null,
  });

test('a look at the outlet does not clear a hard stop, a camera does', async () => {
  const { house, jet } = await stoppedHard();
  await goHome(jet);
  const { footing } = house;
  await look(footing.id, `${DAY}T14:50:00Z`, { reading: { method: 'outlet_look', share: 0.5 } });
  const cable = await t.order(house, [{ kind: 'cable', lineId: footing.id }]);
  const refused = await t.begin(cable, `${DAY}T15:10:00Z`, 422);
  expect(refused.errors).toMatchObject([
    { pointer: '#/tasks', detail: expect.stringContaining('Footing: stopped hard at 4.0 m (13 ft)') },
  ]);
  // Nor does a plug seen from an end.
  await look(footing.id, `${DAY}T15:20:00Z`, { plugged: { cause: 'debris' } });
  await t.begin(cable, `${DAY}T15:30:00Z`, 422);
  const seen = await look(footing.id, `${DAY}T15:40:00Z`, { plugged: { cause: 'debris', seenBy: 'camera' } });
  expect(seen.plugged).toEqual({ cause: 'debris', seenBy: 'camera' });
  await t.begin(cable, `${DAY}T15:50:00Z`);
});

test('a look into another line of the visit does not let the jet begin; order, cautions and sheet say why', async () => {
  const { house, jet } = await stoppedHard();
  await goHome(jet);
  const order = await t.order(house, [{ kind: 'dig_and_replace', lineId: house.footing.id }]);
  const reason = order.becauseOf.find((each: Json) => each.code === 'hard_stop');
  expect(reason).toMatchObject({ facts: { lineId: house.footing.id, atM: 4 } });
  expect(reason.text).toContain('no camera since');
  const { items } = await t.get(`/v1/work-orders/${order.id}/cautions`);
  expect(items[0]).toMatchObject({ code: 'hard_stop' });
  expect(items[0].text).toContain('Footing: stopped hard at 4.0 m (13 ft), met 2026-06-01, no camera since.');
  const small = await t.order(house, [
    { kind: 'inspect', lineId: house.discharge.id },
    { kind: 'cable', lineId: house.footing.id },
  ]);
  expect((await t.begin(small, `${DAY}T15:00:00Z`, 422)).errors[0].pointer).toBe('#/tasks');
  await look(house.footing.id, `${DAY}T15:10:00Z`, { reading: { method: 'camera', share: 0.3 } });
  const after = await t.get(`/v1/work-orders/${small.id}/cautions`);
  expect(after.items.map(({ code }: Json) => code)).not.toContain('hard_stop');
  await t.begin(small, `${DAY}T15:20:00Z`);
});

test('a visit left undone after a hard stop comes back with a camera that goes in first', async () => {
  const { house, jet } = await stoppedHard();
  const before = await t.whole(jet);
  await goHome(jet);
  const again = await t.whole(jet);
  expect([again.state, kindsOf(again), again.kit]).toEqual([
    'wanted',
    ['inspect', 'jet'],
    [...before.kit, 'camera'].sort(),
  ]);
  expect(again.minutes).toBeGreaterThan(before.minutes);
  // It may begin, for its own camera goes in first; what it does without one is not taken as done.
  await t.begin(again, '2026-06-02T14:00:00Z');
  expect((await t.finish(again, '2026-06-02T15:00:00Z', {}, 422)).errors[0].pointer).toBe('#/tasks');
  await look(house.footing.id, '2026-06-02T14:20:00Z', { reading: { method: 'camera', share: 0.3 } });
  expect((await t.finish(again, '2026-06-02T15:00:00Z')).state).toBe('done');
});

test('a hard stop in work partly done raises a look by camera, and nobody adds a cutter on site', async () => {
  const { house, jet } = await stoppedHard();
  const cutter = { id: '019abcde-0000-7000-8000-0000000000c1', kind: 'cable', lineId: house.footing.id };
  const found = { foundAt: t.at(`${DAY}T14:15:00Z`), tasks: [cutter] };
  const refused = await t.send(`/v1/work-orders/${jet.id}/found-work`, found, 422);
  expect(refused.errors[0].detail).toContain('no camera looked in since');
  const [task] = (await t.whole(jet)).tasks;
  await t.finish(jet, `${DAY}T14:30:00Z`, {
    result: 'partly',
    reason: 'unsafe',
    flowProven: 'no',
    tasks: [{ id: task.id, result: 'partly' }],
  });
  const orders = await t.ahead(house);
  // What is left undone comes back behind a camera; no second order is needed for the look.
  expect(orders.map((order) => [kindsOf(order), order.kit])).toEqual([
    [
      ['inspect', 'jet'],
      ['camera', 'jetter'],
    ],
  ]);
});

test('a nozzle that stopped short is looked at by camera too: the order brings one, a look by word does not do', async () => {
  const house = await t.build();
  const jet = await t.order(house, [{ kind: 'jet', lineId: house.footing.id }]);
  await t.begin(jet, `${DAY}T14:00:00Z`);
  await t.send('/v1/cleans', {
    lineId: house.footing.id,
    workOrderId: jet.id,
    cleanedAt: t.at(`${DAY}T14:20:00Z`),
    task: 'jet',
    flowProven: 'no',
    nozzleStopped: m(4),
  });
  await t.finish(jet, `${DAY}T14:30:00Z`, { flowProven: 'no' });
  const [order] = await t.ahead(house);
  expect([kindsOf(order), order?.kit]).toEqual([['inspect'], ['camera']]);
  await t.meet(order);
  await t.begin(order, `${DAY}T15:00:00Z`);
  await look(house.footing.id, `${DAY}T15:10:00Z`, {
    workOrderId: order?.id,
    reading: { method: 'by_word', word: 'half' },
  });
  await t.finish(order, `${DAY}T15:30:00Z`, { flowProven: 'not_possible', water: null });
  const [second] = await t.ahead(house);
  expect(kindsOf(second)).toEqual(['inspect']);
  const cable = await t.order(house, [{ kind: 'cable', lineId: house.footing.id }]);
  expect((await t.begin(cable, `${DAY}T15:40:00Z`, 422)).errors[0].detail).toContain('stopped short');
});

test('a look asked for by hand at a stopped line brings a camera', async () => {
  const { house } = await stoppedHard();
  const inspect = await t.order(house, [{ kind: 'inspect', lineId: house.footing.id }]);
  expect([inspect.tasks[0].plan, inspect.kit]).toEqual([{ method: 'camera' }, ['camera']]);
  const other = await t.order(house, [{ kind: 'inspect', lineId: house.discharge.id }]);
  expect(other.kit).toEqual([]);
});

test('a look already asked for elsewhere becomes the look by camera', async () => {
  const { house, jet } = await stoppedHard();
  const inspect = await t.order(house, [{ kind: 'inspect', lineId: house.footing.id }]);
  await t.pool.query("UPDATE work_order_task SET plan = '{}' WHERE work_order_id = $1", [inspect.id]);
  await t.pool.query("UPDATE work_order SET kit = '{}' WHERE id = $1", [inspect.id]);
  await goHome(jet);
  expect(kindsOf(await t.whole(jet))).toEqual(['jet']);
  const now = await t.whole(inspect);
  expect([now.tasks[0].plan, now.kit]).toEqual([{ method: 'camera' }, ['camera']]);
});
