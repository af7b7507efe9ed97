import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let site: Json;
let system: Json;
let discharge: Json;
let intoPit: Json;
let branch: Json;
let pit: Json;
const PUMP = { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true };
const DONE = { result: 'done', flowProven: 'yes', water: { receiver: 'caught' } };
const m = (value: number) => ({ value, unit: 'm' });

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('owner', { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
const fieldsOf = (body: Json): string[] => body.errors.map((fault: Json) => fault.pointer);
function at(instant: string): string {
  t.clock.at = new Date(instant);
  return instant;
}
const order = (...tasks: object[]) => post('/v1/work-orders', { siteId: site.id, because: 'asked', tasks });
const begin = (made: Json, startedAt = '2026-06-02T14:00:00Z', status = 200) =>
  post(`/v1/work-orders/${made.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status);
const finish = (made: Json, more: object, status = 200, endedAt = '2026-06-02T15:00:00Z') =>
  post(`/v1/work-orders/${made.id}/finish`, { endedAt: at(endedAt), ...DONE, replaced: [], ...more }, status);
const line = (name: string, kind: string, more: object = {}) =>
  post('/v1/lines', { siteId: site.id, systemId: system.id, name, kind, length: m(7), ...more });
let serial = 0;
/** A line that has nothing to do with the pit. */
const yardLine = () => line(`Yard ${++serial}`, 'yard_drain', { outlet: 'daylight' });
async function begun(...tasks: object[]): Promise<Json> {
  const made = await order(...tasks);
  await t.pool.query("UPDATE precondition SET state = 'waived' WHERE work_order_id = $1", [made.id]);
  await begin(made);
  return made;
}

/** An emergency ticket with all answers in; what else the dig waits for is waived. */
async function clearedToDig(made: Json): Promise<void> {
  const now = at('2026-06-02T12:00:00Z');
  await t.pool.query(
    "UPDATE precondition SET state = 'waived' WHERE work_order_id = $1 AND kind <> 'locate_ticket'",
    [made.id],
  );
  const rule = await post('/v1/locate-rules', {
    name: `At once ${++serial}`,
    notice: 3,
    noticeUnit: 'business_day',
    holidays: ['2026-07-03', '2026-11-26'],
    source: 'test',
    confirmedBy: 'Owner',
    confirmedOn: '2026-06-02',
  });
  const ticket = await post(`/v1/work-orders/${made.id}/locate-tickets`, {
    ruleId: rule.id,
    calledAt: now,
    emergencyBecause: 'water in the house',
    utilities: ['gas'],
  });
  const answers = [{ utility: 'gas', answer: 'clear', at: now }];
  await post(`/v1/locate-tickets/${ticket.id}/news`, { answers, privateLinesLocatedAt: now }, 200);
}

beforeAll(async () => {
  t = await testHouse('2026-05-29T12:00:00Z');
  site = await post('/v1/sites', { address: '7 Marsh Gate', town: 'Brindle', area: 'Willow Flats' });
  system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  discharge = await line('Discharge', 'sump_discharge', { outlet: 'daylight' });
  pit = await post('/v1/pits', { siteId: site.id, systemId: system.id, dischargeLineId: discharge.id });
  intoPit = await line('Drain', 'footing_drain', { drainsTo: 'pit', drainsToPitId: pit.id });
  branch = await line('Branch', 'footing_drain', { drainsTo: 'line', drainsToLineId: intoPit.id });
}, 60_000);

test('the pump is asked after wherever its pit, its discharge or what runs into it was worked on', async () => {
  const yard = await yardLine();
  for (const task of [
    { kind: 'clear_pit', pitId: pit.id },
    { kind: 'jet', lineId: discharge.id },
    { kind: 'jet', lineId: intoPit.id },
    { kind: 'jet', lineId: branch.id },
  ]) {
    const made = await begun(task);
    expect(fieldsOf(await finish(made, {}, 422)), JSON.stringify(task)).toEqual(['#/pumpRestored']);
    expect(fieldsOf(await finish(made, { result: 'not_needed' }, 422))).toEqual(['#/pumpRestored']);
    const partly = { result: 'partly', reason: 'out_of_time' };
    expect(fieldsOf(await finish(made, partly, 422))).toEqual(['#/pumpRestored']);
    await finish(made, { pumpRestored: PUMP });
  }
  await finish(await begun({ kind: 'jet', lineId: yard.id }), {});
});

test.each(['powerOn', 'valveOpen', 'floatCycled', 'lidBack'])('%s false is not done', async (part) => {
  const yard = await yardLine();
  const pumpRestored = { ...PUMP, [part]: false };
  const made = await begun({ kind: 'jet', lineId: yard.id });
  const refused = await finish(made, { pumpRestored }, 422);
  expect(refused.errors).toMatchObject([
    { pointer: '#/pumpRestored', remedy: 'power on, valve open, float cycled, lid back: all four' },
  ]);
  await finish(made, {});
});

test('a crew that left in vain answers for the pump too, unless it never came near', async () => {
  const made = await begun({ kind: 'jet', lineId: discharge.id });
  const left = { result: 'not_done', reason: 'kit', flowProven: null, water: null };
  expect(fieldsOf(await finish(made, left, 422))).toEqual(['#/pumpRestored']);
  const off = { ...left, pumpRestored: { ...PUMP, powerOn: false } };
  expect(fieldsOf(await finish(made, off, 422))).toEqual(['#/pumpRestored']);
  await finish(made, { ...off, note: 'breaker will not hold; client told' });
  const shut = await begun({ kind: 'clear_pit', pitId: pit.id });
  await finish(shut, { ...left, reason: 'gate' });
});

test('after a flush the receiver is said; words alone do not do, and no reference makes an incident', async () => {
  const yard = await yardLine();
  const made = await begun({ kind: 'hose_flush', lineId: yard.id });
  const words = { water: null, waterWentTo: 'down the storm drain' };
  expect(fieldsOf(await finish(made, words, 422))).toEqual(['#/water']);
  await finish(made, { water: { receiver: 'storm_drain' }, waterWentTo: 'down the storm drain' });
  const { rows } = await t.pool.query('SELECT kind FROM incident WHERE work_order_id = $1', [made.id]);
  expect(rows).toEqual([{ kind: 'discharge' }]);
  await finish(await begun({ kind: 'inspect', lineId: yard.id }), { water: null });
});

test('a visit that ends in part says where the water of what was begun went', async () => {
  const [one, two] = [await yardLine(), await yardLine()];
  const partly = { result: 'partly', reason: 'out_of_time', water: null };
  const made = await begun({ kind: 'jet', lineId: one.id }, { kind: 'jet', lineId: two.id });
  const { tasks } = (await t.call('owner', { method: 'GET', url: `/v1/work-orders/${made.id}` })).body;
  expect(fieldsOf(await finish(made, partly, 422))).toEqual(['#/water']);
  const left = (id: string) => ({ id, result: 'not_done', reason: 'out_of_time' });
  const begunOne = { ...partly, tasks: [{ id: tasks[0].id, result: 'partly' }, left(tasks[1].id)] };
  expect(fieldsOf(await finish(made, begunOne, 422))).toEqual(['#/water']);
  await finish(made, { ...begunOne, water: { receiver: 'own_ground', place: 'lawn' } });
  // Where each flush is said to be left, no water went anywhere.
  const looked = await begun(
    { kind: 'inspect', lineId: await yardLine().then(({ id }) => id) },
    { kind: 'jet', lineId: await yardLine().then(({ id }) => id) },
  );
  const of = (await t.call('owner', { method: 'GET', url: `/v1/work-orders/${looked.id}` })).body.tasks;
  await finish(looked, { ...partly, tasks: [{ id: of[0].id, result: 'done' }, left(of[1].id)] });
});

test('a no of a visit to several lines is of the line it is said of, and of no other', async () => {
  const [one, two] = [await yardLine(), await yardLine()];
  const made = await begun({ kind: 'jet', lineId: one.id }, { kind: 'jet', lineId: two.id });
  const { tasks } = (await t.call('owner', { method: 'GET', url: `/v1/work-orders/${made.id}` })).body;
  const bare = await finish(made, { flowProven: 'no' }, 422);
  expect(bare.errors).toMatchObject([
    { pointer: '#/flowProven', remedy: expect.stringContaining('tasks[].flowProven') },
  ]);
  await finish(made, {
    flowProven: 'no',
    tasks: [
      { id: tasks[0].id, result: 'done', flowProven: 'yes' },
      { id: tasks[1].id, result: 'done', flowProven: 'no' },
    ],
  });
  const proven = async (line: Json) =>
    (await t.call('owner', { method: 'GET', url: `/v1/cleans?lineId=${line.id}` })).body.items.map(
      (clean: Json) => clean.flowProven,
    );
  expect([await proven(one), await proven(two)]).toEqual([['yes'], ['no']]);
  const other = await post('/v1/systems', { siteId: site.id, name: 'Back', kind: 'pit' });
  const back = await post('/v1/pits', { siteId: site.id, systemId: other.id });
  const onPit = await begun({ kind: 'clear_pit', pitId: back.id });
  const [clearing] = (await t.call('owner', { method: 'GET', url: `/v1/work-orders/${onPit.id}` })).body
    .tasks;
  const end = { pumpRestored: PUMP, tasks: [{ id: clearing.id, result: 'done', flowProven: 'yes' }] };
  expect(fieldsOf(await finish(onPit, end, 422))).toEqual(['#/tasks/0/flowProven']);
});

test('a trench dug deeper than it was checked is checked again before work goes on, and before it ends', async () => {
  const yard = await yardLine();
  const made = await order({ kind: 'dig_and_replace', lineId: yard.id });
  await clearedToDig(made);
  const url = `/v1/work-orders/${made.id}`;
  const check = (checkedAt: string, depth: number) =>
    post(`${url}/trench-checks`, {
      checkedAt: at(checkedAt),
      checkedBy: 'Heron',
      protection: 'shored',
      depth: m(depth),
      exitWithin: m(3),
      spoilBack: m(0.8),
      oxygenPercent: 20.8,
      ladderAbove: m(1),
    });
  expect((await check('2026-06-02T13:30:00Z', 1)).passed).toBe(true);
  await begin(made);
  const seen = (seenAt: string, depth: number) =>
    post(`${url}/trench-depths`, { seenAt: at(seenAt), depth: m(depth) }, 200);
  expect(await seen('2026-06-02T14:10:00Z', 1.05)).toMatchObject({ checkHolds: true });
  const deeper = await seen('2026-06-02T14:20:00Z', 1.6);
  expect([deeper.checkHolds, deeper.check.faults[0].code]).toEqual([false, 'deeper_than_checked']);
  expect(fieldsOf(await finish(made, {}, 422))).toEqual(['#/tasks']);
  expect((await check('2026-06-02T14:25:00Z', 1.6)).passed).toBe(true);
  expect(await seen('2026-06-02T14:30:00Z', 1.6)).toMatchObject({ checkHolds: true });
  const [dig] = (await t.call('owner', { method: 'GET', url })).body.tasks;
  const dug = (depth: number) => ({ tasks: [{ id: dig.id, result: 'done', dugTo: m(depth) }] });
  expect(fieldsOf(await finish(made, dug(2.1), 422))).toEqual(['#/tasks']);
  await finish(made, dug(1.6));
});

test('what a trace found lies on its line, wherever it is said', async () => {
  const yard = await yardLine();
  const made = await begun({ kind: 'trace', lineId: yard.id });
  const { tasks } = (await t.call('owner', { method: 'GET', url: `/v1/work-orders/${made.id}` })).body;
  const found = (from: number, to: number, depth: number) => ({
    tasks: [{ id: tasks[0].id, result: 'done', found: { from: m(from), to: m(to), depth: m(depth) } }],
  });
  // 20 ft to 5 ft, 50 m deep
  expect(fieldsOf(await finish(made, found(6.1, 1.5, 50), 422))).toEqual([
    '#/tasks/0/found/to',
    '#/tasks/0/found/depth',
  ]);
  expect(fieldsOf(await finish(made, found(2, 8, 1), 422))).toEqual(['#/tasks/0/found/to']);
  const said = { saidAt: at('2026-06-02T14:30:00Z'), result: 'done', found: { from: m(6), to: m(5) } };
  const refused = await post(`/v1/work-order-tasks/${tasks[0].id}/results`, said, 422);
  expect(fieldsOf(refused)).toEqual(['#/found/to']);
  await finish(made, found(2, 6, 1));
});

test('a trench dug by hand is proven and was seen open', async () => {
  const yard = await yardLine();
  const made = await order({ kind: 'dig_and_replace', lineId: yard.id });
  await clearedToDig(made);
  const check = (checkedAt: string, more: object) =>
    post(`/v1/work-orders/${made.id}/trench-checks`, {
      checkedAt: at(checkedAt),
      checkedBy: 'Heron',
      ...more,
    });
  await check('2026-06-02T13:30:00Z', { protection: 'none' });
  await begin(made);
  expect(fieldsOf(await finish(made, { flowProven: 'no' }, 422))).toEqual(['#/flowProven', '#/tasks']);
  const deep = { protection: 'sloped', depth: { value: 10, unit: 'ft' }, exitWithin: m(4) };
  const bare = await check('2026-06-02T14:20:00Z', deep);
  expect([bare.passed, bare.faults.map((fault: Json) => fault.code)]).toEqual([
    false,
    ['slope_unsaid', 'spoil_unsaid', 'air_unsaid'],
  ]);
  expect(fieldsOf(await finish(made, {}, 422))).toEqual(['#/tasks']);
  await check('2026-06-02T14:30:00Z', { ...deep, slopeRatio: 1.5, spoilBack: m(0.8), oxygenPercent: 20.8 });
  await finish(made, {});
});

test('rain is told of an area whatever its case, and of no area that is not on the books', async () => {
  const yard = await yardLine();
  const made = await order({ kind: 'add_cleanout', lineId: yard.id });
  await clearedToDig(made);
  await post(`/v1/work-orders/${made.id}/trench-checks`, {
    checkedAt: at('2026-06-02T13:30:00Z'),
    checkedBy: 'Heron',
    protection: 'none',
  });
  const rain = (area: string, status = 201) =>
    post('/v1/rain-reports', { area, endedAt: at('2026-06-02T13:40:00Z') }, status);
  expect((await rain('Wilow Flats', 422)).errors).toMatchObject([
    { pointer: '#/area', remedy: expect.stringContaining('Willow Flats') },
  ]);
  expect((await rain('willow flats')).area).toBe('Willow Flats');
  expect((await begin(made, '2026-06-02T14:00:00Z', 422)).errors[0].detail).toContain('rain');
});

test('work does not begin before its order was made', async () => {
  const yard = await yardLine();
  const made = await order({ kind: 'inspect', lineId: yard.id });
  await t.pool.query("UPDATE work_order SET created_at = '2026-06-02T12:00:00Z' WHERE id = $1", [made.id]);
  const start = async (startedAt: string, status: number) => {
    at('2026-06-02T14:00:00Z');
    return post(`/v1/work-orders/${made.id}/start`, { startedAt }, status);
  };
  expect(fieldsOf(await start('2019-06-02T12:00:00Z', 422))).toEqual(['#/startedAt']);
  expect(fieldsOf(await start('2026-06-02T11:54:00Z', 422))).toEqual(['#/startedAt']);
  // A device's clock may be five minutes off.
  await start('2026-06-02T11:56:00Z', 200);
});
