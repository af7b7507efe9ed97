import { beforeEach, expect, test } from 'vitest';
import { datePits, orderPits, raiseTickets } from '../../src/actions/night/pitsAndTickets.js';
import { DEFAULT_SETTINGS } from '../../src/domain/work/settings.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
});

async function post(
  url: string,
  payload: object,
  role: 'dispatcher' | 'owner' = 'dispatcher',
): Promise<Json> {
  const answer = await t.call(role, { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBeLessThan(300);
  return answer.body;
}
const get = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
const inNight = <T>(work: Parameters<typeof t.house.transact<T>>[1]) =>
  t.house.transact({ name: 'night' }, work);

test('a dig stands inside the days of its locate ticket, or on no route at all', async () => {
  const [friday, past, free] = [
    await t.order({ east: 1 }),
    await t.order({ east: 2 }),
    await t.order({ east: 3 }),
  ];
  const ticket = (workOrderId: string, from: string, to: string) =>
    t.pool.query(
      `INSERT INTO precondition (id, work_order_id, kind, state, valid_from, valid_to) VALUES (gen_random_uuid(), $1, 'locate_ticket', 'met', $2, $3)`,
      [workOrderId, from, to],
    );
  await ticket(friday, FRIDAY, FRIDAY);
  await ticket(past, '2026-09-01', '2026-09-15');
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  expect((await t.accept(plan.id)).status).toBe(200);
  const on = async (day: string) => (await t.live(day)).map((stop) => stop.workOrderId);
  expect(await on(FRIDAY)).toContain(friday);
  expect(await on(THURSDAY)).not.toContain(friday);
  expect([...(await on(THURSDAY)), ...(await on(FRIDAY))]).not.toContain(past);
  expect([...(await on(THURSDAY)), ...(await on(FRIDAY))]).toContain(free);
  const { body } = await t.call('owner', { method: 'GET', url: `/v1/plans/${plan.id}` });
  expect(body.unplaced.find((each: Json) => each.workOrderId === past).text).toContain('locate ticket');
});

async function pitHouse(more: object = {}) {
  const site = await post('/v1/sites', { address: '9 Marsh Gate', town: 'Brindle', ...more });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  return post('/v1/pits', { siteId: site.id, systemId: system.id });
}

test('a pit is due like a line: a year from its books, 90 days where ochre is known, now when a test failed', async () => {
  const plain = await pitHouse();
  const ochre = await pitHouse({ ferrousIron: { value: 4, unit: 'mg/L' } });
  const failed = await pitHouse();
  await post('/v1/inspections', {
    pitId: failed.id,
    observedAt: '2026-10-01T10:00:00Z',
    phase: 'no_cleaning',
    pitTest: { floatCycled: true, checkValveHolds: false, sludgeShare: 0.2 },
  });
  // Recorded as of the database's own today
  await t.pool.query(`UPDATE pit SET created_at = '2026-10-01T12:00:00Z'`);
  await inNight((stores) => datePits(t.house, stores, THURSDAY, DEFAULT_SETTINGS));
  const dueOn = async (pit: Json) => (await get(`/v1/pits/${pit.id}`)).dueOn;
  expect(await dueOn(plain)).toBe('2027-10-01');
  expect(await dueOn(ochre)).toBe('2026-12-30');
  expect(await dueOn(failed)).toBe(THURSDAY);

  // The valve's repair was ordered the moment it was found: the night adds nothing.
  expect(await inNight((stores) => orderPits(t.house, stores, THURSDAY, DEFAULT_SETTINGS))).toBe(0);
  const { items } = await get(`/v1/work-orders?siteId=${failed.siteId}`);
  expect(items).toHaveLength(1);
  expect(items[0].becauseOf[0].text).toContain('check valve');
  const order = await get(`/v1/work-orders/${items[0].id}`);
  expect(order.tasks.map((task: Json) => task.kind)).toContain('test_pump');
  // Nothing was ordered for the others yet; once one is near, the night does.
  await t.pool.query(`UPDATE pit SET last_tested_on = '2025-10-05' WHERE id = $1`, [plain.id]);
  await t.pool.query(`UPDATE pit SET due_on = NULL WHERE id = $1`, [plain.id]);
  expect(await inNight((stores) => orderPits(t.house, stores, THURSDAY, DEFAULT_SETTINGS))).toBe(1);
  expect(await inNight((stores) => orderPits(t.house, stores, THURSDAY, DEFAULT_SETTINGS))).toBe(0);
  const [ordered] = (await get(`/v1/work-orders?siteId=${plain.siteId}`)).items;
  expect((await get(`/v1/work-orders/${ordered.id}`)).tasks.map((task: Json) => task.kind)).toEqual([
    'clear_pit',
    'test_pump',
  ]);
});

test('a look at a pit belongs to a pit', async () => {
  const site = await post('/v1/sites', { address: '8 Marsh Gate', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'G', kind: 'gravity' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'L',
    kind: 'yard_drain',
  });
  const bad = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections',
    payload: {
      lineId: line.id,
      observedAt: '2026-10-01T10:00:00Z',
      phase: 'no_cleaning',
      reading: { method: 'camera', share: 0.1 },
      pitTest: { floatCycled: true },
    },
  });
  expect([bad.status, bad.body.errors[0].pointer]).toEqual([422, '#/pitTest']);
});

test('a ticket is raised while a new one would still be good in time, and opened when it ended', async () => {
  const rule = await post(
    '/v1/locate-rules',
    {
      name: 'Ours',
      notice: 3,
      noticeUnit: 'business_day',
      life: 10,
      lifeUnit: 'calendar_day',
      holidays: ['2026-07-03', '2026-11-26'],
      source: 'state law, read by the owner',
      confirmedBy: 'Owner',
      confirmedOn: '2026-09-01',
    },
    'owner',
  );
  const orderId = await t.order();
  await t.pool.query(
    `INSERT INTO precondition (id, work_order_id, kind) VALUES (gen_random_uuid(), $1, 'locate_ticket')`,
    [orderId],
  );
  // Called on Monday 21 September: good from Friday 25 September to Thursday 1 October
  const ticket = await post(`/v1/work-orders/${orderId}/locate-tickets`, {
    ruleId: rule.id,
    calledAt: '2026-09-21T15:00:00Z',
    utilities: ['gas'],
  });
  expect([ticket.firstDay, ticket.lastDay]).toEqual(['2026-09-25', '2026-10-01']);
  await post(`/v1/locate-tickets/${ticket.id}/news`, {
    answers: [{ utility: 'gas', answer: 'clear', at: '2026-09-22T15:00:00Z' }],
    privateLinesLocatedAt: '2026-09-22T15:00:00Z',
  });
  const raise = (day: string) => inNight((stores) => raiseTickets(t.house, stores, day));
  const state = async () => (await get(`/v1/preconditions?workOrderId=${orderId}`)).items[0].state;
  expect([await raise('2026-09-24'), await state()]).toEqual([0, 'met']);
  // Called on Friday 25 September a new one is good from Thursday 1 October: the last chance
  expect([await raise('2026-09-25'), await state()]).toEqual([1, 'met']);
  expect([await raise('2026-10-02'), await state()]).toEqual([1, 'open']);
  const { rows } = await t.pool.query(
    `SELECT once_key FROM event WHERE kind = 'locate_ticket_ends' ORDER BY once_key`,
  );
  expect(rows.map((row) => String(row.once_key).split(':').at(-1))).toEqual(['ended', 'soon']);
});

test('where the kit does not reach, a cleanout comes before the jet', async () => {
  const site = await post('/v1/sites', { address: '6 Marsh Gate', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'G', kind: 'gravity' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Long',
    kind: 'footing_drain',
    length: { value: 60, unit: 'm' },
  });
  await post('/v1/kit-items', { name: 'Short jetter', kind: 'jetter', reach: { value: 25, unit: 'm' } });
  await t.pool.query(`UPDATE kit_item SET reach_m = 25 WHERE kind = 'jetter'`);
  await post('/v1/access-points', {
    siteId: site.id,
    lineId: line.id,
    kind: 'outlet',
    place: 'bank',
    direction: 'upstream',
  });
  await post('/v1/inspections', {
    lineId: line.id,
    observedAt: '2026-10-01T10:00:00Z',
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
  const { items } = await get(`/v1/work-orders?siteId=${site.id}&sort=number`);
  // 25 m up from the outlet at 60 m leave 35 m; from a cleanout at 25 m the hose goes back to the beginning
  expect(items[0].becauseOf[1]).toMatchObject({
    code: 'out_of_reach',
    facts: { missingM: 35, cleanoutAtM: 25 },
  });
  expect(items[1].followsId).toBe(items[0].id);
  const jet = await get(`/v1/work-orders/${items[1].id}`);
  expect(jet.tasks.map((task: Json) => task.kind)).toEqual(['jet']);
});
