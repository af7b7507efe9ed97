import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
let crewId: string;
beforeEach(async () => {
  t = await plannedHouse();
  crewId = t.crews.heron;
}, 60_000);

const call = (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, payload?: object) =>
  t.call('dispatcher', { method, url, ...(payload ? { payload } : {}) });
const undo = (planId: string) => call('POST', `/v1/plans/${planId}/undoing`);
const routeOf = async (crew: string, day = THURSDAY) =>
  (await t.live(day)).filter((stop) => stop.crewId === crew).map((stop) => stop.workOrderId);
const place = async (id: string, more: object = {}) =>
  (await t.place(id, { crewId, day: THURSDAY, afterWorkOrderId: null, ...more })).body as Json;

test('an order promised for the afternoon and put first tells the idle morning, and one call puts all back', async () => {
  const [one, two] = [await t.order({ north: 8 }), await t.order({ north: 8, east: 1 })] as const;
  await place(one);
  await place(two, { afterWorkOrderId: one });
  const late = await t.order({ north: 7, minutes: 60 });
  await t.promise(late, THURSDAY, '15:00', '16:00');
  const placed = await place(late, { displaces: [two] });
  const [{ after }] = placed.consequences;
  // Five minutes of drive before noon, the break on arrival, and a wait until 15:00; the shift began at 7:30, Chicago.
  expect(after).toMatchObject({
    leavesAt: '2026-10-01T16:54:48.000Z',
    idleSeconds: 15_888,
    waitSeconds: 9_000,
  });
  const said = Object.fromEntries(placed.warnings.map((each: Json) => [each.code, each.text]));
  expect(said).toMatchObject({
    idle_start:
      'Heron leaves at 11:55, 4 h 25 after its shift begins at 7:30: nothing is planned before, put other work first',
    long_wait: 'Heron waits 2 h 30 before order 3 may begin at 15:00',
  });
  const strip = await call('GET', `/v1/routes.svg?day=${THURSDAY}`);
  expect(strip.text).toContain('nothing planned');
  expect(await routeOf(crewId)).toEqual([late, one]);

  const undone = await undo(placed.planId);
  expect(undone.status).toBe(200);
  expect(undone.body).toMatchObject({ displaced: [late], consequences: [{ before: after }] });
  expect(undone.body.toPhone).toMatchObject([{ workOrderId: late, planned: null }]);
  expect(await routeOf(crewId)).toEqual([one, two]);
  expect((await call('GET', `/v1/work-orders/${late}`)).body.state).toBe('wanted');
  expect((await call('GET', `/v1/plans/${undone.body.planId}`)).body.because).toBe(
    'undone: order 3 placed by hand',
  );
  expect((await undo(placed.planId)).body.errors[0].detail).toBe('It has been undone already (dispatcher).');
  // And the undoing is undone.
  expect((await undo(undone.body.planId)).status).toBe(200);
  expect(await routeOf(crewId)).toEqual([late, one]);
});

test('a move between two crews and days goes back on both', async () => {
  const [one, two] = [await t.order({ north: 8 }), await t.order({ north: 8, east: 1 })] as const;
  await place(one);
  await place(two);
  const moved = await place(one, { crewId: t.crews.plover, day: FRIDAY });
  expect([await routeOf(crewId), await routeOf(t.crews.plover, FRIDAY)]).toEqual([[two], [one]]);
  expect((await undo(moved.planId)).status).toBe(200);
  expect([await routeOf(crewId), await routeOf(t.crews.plover, FRIDAY)]).toEqual([[two, one], []]);
});

test('what has happened since keeps it from being undone, and is named', async () => {
  const [one, two, three] = [
    await t.order({ north: 8 }),
    await t.order({ north: 8, east: 1 }),
    await t.order({ north: 8, east: 2 }),
  ] as const;
  const refused = async (planId: string, detail: string) => {
    const { status, body } = await undo(planId);
    expect([status, body.errors?.[0].detail]).toEqual([409, detail]);
  };
  const first = await place(one);
  const second = await place(two, { displaces: [one] });
  await refused(
    first.planId,
    `The route of Heron on ${THURSDAY} has been changed since (order 2 placed by hand, dispatcher).`,
  );
  await place(one, { crewId: t.crews.plover, day: FRIDAY });
  await refused(second.planId, 'Order 1, which gave way, has been given another place since.');
  const third = await place(three);
  t.clock.at = new Date('2026-10-01T13:10:00Z');
  const started = { startedAt: '2026-10-01T13:10:00Z', cautionsSeen: true };
  expect((await call('POST', `/v1/work-orders/${three}/start`, started)).status).toBe(200);
  await refused(third.planId, 'Order 3 has been started since.');
  const searched = await t.plan({ fromDay: FRIDAY, workingDays: 1 });
  await t.accept(searched.id);
  await refused(searched.id, 'Only what was placed by hand can be undone: accept another plan instead.');
  expect((await undo('0190a0a0-0000-7000-8000-000000000000')).status).toBe(404);
});

test('a published route changed or put back by hand says so', async () => {
  const [one, two] = [await t.order({ north: 8 }), await t.order({ north: 8, east: 1 })] as const;
  await place(one);
  expect((await call('POST', `/v1/days/${THURSDAY}/publication`)).status).toBe(200);
  const changed = await place(two);
  const told = (body: Json) => body.warnings.filter((each: Json) => each.code === 'published_route_changes');
  expect(told(changed)[0].text).toBe(
    `Heron was told its route of Thu 1 Oct 2026 (7:00): the change shows there as changesSincePublished; make sure it is seen`,
  );
  const undone = await undo(changed.planId);
  expect(told(undone.body)).toHaveLength(1);
  const [route] = (await call('GET', `/v1/routes?day=${THURSDAY}`)).body.items;
  expect(route.changesSincePublished).toEqual([]);
});

test('a lock is read where the order is: to what, by whom, when and why', async () => {
  const order = await t.order({ north: 8 });
  await place(order);
  const because = 'the client comes home from hospital';
  const { body } = await call('PUT', `/v1/work-orders/${order}/lock`, {
    day: THURSDAY,
    from: '13:00',
    because,
  });
  const lock = {
    day: THURSDAY,
    crewId: null,
    from: '13:00',
    to: null,
    sequence: null,
    lockedBy: 'dispatcher',
    lockedAt: '2026-10-01T12:00:00.000Z',
    because,
  };
  expect(body.lock).toEqual(lock);
  expect((await call('GET', `/v1/work-orders/${order}`)).body.lock).toEqual(lock);
  expect((await call('GET', '/v1/work-orders')).body.items[0].lock).toEqual(lock);
  const [route] = (await call('GET', `/v1/routes?day=${THURSDAY}`)).body.items;
  expect(route.stops[0].workOrder.lock).toEqual(lock);
  // Without parts: the day and crew it stands on; said anew, by whom and why.
  const again = await call('PUT', `/v1/work-orders/${order}/lock`, { because: 'as told' });
  expect(again.body.lock).toMatchObject({ day: THURSDAY, crewId, from: null, because: 'as told' });
  expect((await call('DELETE', `/v1/work-orders/${order}/lock`)).body.lock).toBeNull();
  const { rows } = await t.pool.query('SELECT lock_by, locked_at, lock_because FROM work_order');
  expect(rows).toEqual([{ lock_by: null, locked_at: null, lock_because: null }]);
});
