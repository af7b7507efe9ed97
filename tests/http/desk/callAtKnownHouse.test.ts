import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
let due: string;
let siteId: string;
beforeEach(async () => {
  // Thursday, 9:00 in Chicago.
  t = await plannedHouse('2026-10-01T14:00:00Z');
  due = await t.order({ minutes: 90 });
  const { rows } = t.house.stores;
  siteId = String((await rows.get('work_order', due))?.['site_id']);
  const [line] = await rows.all('line', [{ column: 'site_id', is: '=', value: siteId }]);
  const pitId = randomUUID();
  await rows.insert('pit', {
    id: pitId,
    site_id: siteId,
    system_id: line?.['system_id'],
    place: 'basement',
    discharge_line_id: line?.['id'],
  });
  const task = { work_order_id: due, minutes: 10 };
  await rows.insert('work_order_task', {
    ...task,
    id: randomUUID(),
    position: 2,
    kind: 'test_pump',
    pit_id: pitId,
  });
  await rows.insert('work_order_task', {
    ...task,
    id: randomUUID(),
    position: 3,
    kind: 'inspect',
    line_id: line?.['id'],
  });
}, 60_000);

const call = async (more: object = {}): Promise<Json> => {
  const { status, body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/calls',
    payload: { kind: 'water_rising', siteId, answers: { pumpRuns: 'yes' }, ...more },
  });
  expect(status, JSON.stringify(body)).toBe(201);
  return body;
};
const order = async (id: string): Promise<Json> =>
  (await t.call('dispatcher', { method: 'GET', url: `/v1/work-orders/${id}` })).body;
const kinds = ({ tasks }: Json) => tasks.map(({ kind }: Json) => kind).sort();
const codes = ({ warnings }: Json) => warnings.map(({ code }: Json) => code);

test('a flood at the house that is due: pump tested and discharge inspected, taken from the visit that can wait', async () => {
  expect(
    (await t.place(due, { crewId: t.crews.heron, day: FRIDAY, afterWorkOrderId: null, displaces: [] }))
      .status,
  ).toBe(200);
  const taken = await call();
  expect(taken.addedToOpenOrder).toBe(false);
  expect(kinds(taken.workOrder)).toEqual(['inspect', 'test_pump']);
  expect(kinds(await order(due))).toEqual(['jet']);
  expect(codes(taken)).toEqual(['tasks_taken_over', 'open_order_at_site']);
  // Who comes for the other one, and when.
  expect(taken.warnings[1].text).toMatch(/Heron comes for it at .* on Fri 2 Oct 2026/);
}, 60_000);

test('a second call of the house is added to the open emergency: one visit, the sooner time, where it stands', async () => {
  const first = await call({ kind: 'alarm' });
  const second = await call({ answers: { waterInHouse: 'yes' } });
  expect(second).toMatchObject({ addedToOpenOrder: true, workOrder: { id: first.workOrder.id } });
  expect(kinds(second.workOrder)).toEqual(['inspect', 'test_pump']);
  // An alarm has until 13:00, rising water until 11:00.
  expect(first.workOrder.respondBy).toBe('2026-10-01T18:00:00.000Z');
  expect(second.workOrder).toMatchObject({ respondBy: '2026-10-01T16:00:00.000Z', people: 2 });
  expect(second.warnings[0]).toMatchObject({
    code: 'call_added',
    text: expect.stringContaining('no crew drives there yet'),
  });
  const { rows } = await t.pool.query(`SELECT count(*)::int AS n FROM work_order WHERE cause = 'call'`);
  expect(rows[0]?.['n']).toBe(1);

  await t.place(first.workOrder.id, {
    crewId: t.crews.plover,
    day: FRIDAY,
    afterWorkOrderId: null,
    displaces: [],
  });
  expect((await call()).warnings[0]).toMatchObject({
    code: 'placed_too_late',
    text: expect.stringMatching(/Plover comes at .*too late/),
  });
  // Gas in the later call keeps everybody out of the visit of the first.
  const gas = await call({ answers: { smellOfGas: 'yes' } });
  expect(gas.workOrder.waitsFor).toMatchObject([{ kind: 'made_safe', state: 'open' }]);
}, 60_000);

test('an order all of whose work goes over is withdrawn; a crew at the house is named', async () => {
  await t.pool.query(`DELETE FROM work_order_task WHERE work_order_id = $1 AND kind = 'jet'`, [due]);
  const taken = await call();
  expect(taken.warnings[0]).toMatchObject({ code: 'tasks_taken_over', facts: { withdrawn: true } });
  expect(await order(due)).toMatchObject({ state: 'withdrawn' });

  const { id } = taken.workOrder;
  await t.pool.query(`UPDATE work_order SET state = 'under_way' WHERE id = $1`, [id]);
  const again = await call();
  expect(again.workOrder.id).not.toBe(id);
  expect(again.workOrder.tasks.length).toBeGreaterThan(0);
  expect(codes(again)).toContain('crew_at_house');
}, 60_000);
