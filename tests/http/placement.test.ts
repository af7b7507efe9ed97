import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
});

const call = (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, payload?: object) =>
  t.call('dispatcher', { method, url, ...(payload ? { payload } : {}) });
const today = { fromDay: THURSDAY, workingDays: 1 };
const routeOf = async (crewId: string, day = THURSDAY) =>
  (await t.live(day)).filter((stop) => stop.crewId === crewId).map((stop) => stop.workOrderId);
const onlyHeron = () => t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);

test('an emergency gets its three cheapest places, and is put into one of them', async () => {
  await t.order({ east: 1, north: 8 });
  await t.order({ east: -1, north: -8 });
  await t.accept((await t.plan(today)).id);
  const emergency = await t.order({ north: 9, row: { respond_by: '2026-10-01T16:00:00Z', cause: 'call' } });
  const { status, body } = await call('GET', `/v1/work-orders/${emergency}/places`);
  expect(status).toBe(200);
  expect(body.places).toHaveLength(3);
  const costs = body.places.map((place: Json) => place.extraCostMinor);
  expect(costs).toEqual([...costs].sort((a, b) => a - b));
  const [best] = body.places;
  // Answered by 11:00 local, whoever goes.
  for (const place of body.places) expect(place.startsAt <= '2026-10-01T16:00:00Z').toBe(true);
  expect(best.consequence.after.driveSeconds).toBeGreaterThan(best.consequence.before.driveSeconds);
  const placed = await call('POST', `/v1/work-orders/${emergency}/placement`, {
    crewId: best.crewId,
    day: best.day,
    afterWorkOrderId: best.afterWorkOrderId,
  });
  expect(placed.status).toBe(200);
  expect(placed.body.consequences[0]).toEqual(best.consequence);
  expect(await routeOf(best.crewId)).toContain(emergency);
  expect((await call('GET', `/v1/plans/${placed.body.planId}`)).body).toMatchObject({
    state: 'accepted',
    because: 'order 3 placed by hand',
    onlyFor: [{ crewId: best.crewId, day: THURSDAY }],
  });
});

test('where the day is full the emergency displaces the cheapest stop, which waits again', async () => {
  await onlyHeron();
  const worth = (plug: number) => ({ minutes: 200, row: { wanted_by: plug > 0 ? THURSDAY : '2027-01-01' } });
  const dear = await t.order({ east: 1, ...worth(1) });
  const cheap = await t.order({ east: 1, north: 1, ...worth(0) });
  await call('PUT', `/v1/work-orders/${cheap}/lock`, { day: THURSDAY });
  await t.pool.query(`UPDATE work_order SET wanted_by = $2 WHERE id = $1`, [cheap, THURSDAY]);
  await t.accept((await t.plan(today)).id);
  expect((await routeOf(t.crews.heron)).sort()).toEqual([dear, cheap].sort());
  await call('DELETE', `/v1/work-orders/${cheap}/lock`);
  await t.pool.query(`UPDATE work_order SET wanted_by = '2027-01-01' WHERE id = $1`, [cheap]);
  const emergency = await t.order({
    east: 2,
    minutes: 120,
    row: { respond_by: '2026-10-01T20:00:00Z', cause: 'call' },
  });
  const { body } = await call('GET', `/v1/work-orders/${emergency}/places?days=1`);
  expect(body.places[0].displaces).toMatchObject([{ workOrderId: cheap, number: 2, promised: false }]);
  const place = body.places[0];
  const placed = await call('POST', `/v1/work-orders/${emergency}/placement`, {
    crewId: place.crewId,
    day: place.day,
    afterWorkOrderId: place.afterWorkOrderId,
    displaces: [cheap],
  });
  expect(placed.body.displaced).toEqual([cheap]);
  expect((await routeOf(t.crews.heron)).sort()).toEqual([dear, emergency].sort());
  expect((await call('GET', `/v1/work-orders/${cheap}`)).body.state).toBe('wanted');
});

test('a season of one depot does not stand in the way of the other', async () => {
  await t.house.stores.rows.insert('closed_season', {
    id: crypto.randomUUID(),
    depot_id: t.depots.north,
    tasks: ['jet'],
    from_day: THURSDAY,
    to_day: THURSDAY,
    reason: 'frost',
  });
  const jet = await t.order({ kit: ['jetter'] });
  const { body } = await call('GET', `/v1/work-orders/${jet}/places?days=1`);
  expect(body.places.map((place: Json) => place.crewId)).toEqual([t.crews.curlew]);
});

test('moved by hand, late stops, overtime and driving come back; tried only, nothing moves', async () => {
  await onlyHeron();
  const promised = await t.order({ east: 1, minutes: 60 });
  await t.promise(promised, THURSDAY, '08:00', '09:00');
  const other = await t.order({ east: 30, minutes: 300 });
  await t.accept((await t.plan(today)).id);
  expect(await routeOf(t.crews.heron)).toEqual([promised, other]);
  const after = { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: other, tryOnly: true };
  const tried = await call('POST', `/v1/work-orders/${promised}/placement`, after);
  expect(tried.body.planId).toBeNull();
  const [consequence] = tried.body.consequences;
  expect(consequence.late).toMatchObject([{ workOrderId: promised, promised: true }]);
  expect(consequence.late[0].lateSeconds).toBeGreaterThan(4 * 3600);
  expect(tried.body.toPhone).toMatchObject([
    {
      workOrderId: promised,
      promised: { day: THURSDAY, from: '08:00', to: '09:00' },
      contacts: [{ name: 'A. Reed', phone: '555 0100' }],
    },
  ]);
  expect(await routeOf(t.crews.heron)).toEqual([promised, other]);
  await call('POST', `/v1/work-orders/${promised}/placement`, { ...after, tryOnly: false });
  expect(await routeOf(t.crews.heron)).toEqual([other, promised]);
});

test('moved to another crew and day both routes are driven anew, and a proposal of those days goes stale', async () => {
  const [a, b] = [await t.order({ north: 8 }), await t.order({ north: 9 })];
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 2 })).id);
  const from = (await t.live(THURSDAY)).find((stop) => stop.workOrderId === a)?.crewId ?? '';
  const proposal = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  const moved = await call('POST', `/v1/work-orders/${a}/placement`, {
    crewId: t.crews.curlew,
    day: FRIDAY,
    afterWorkOrderId: null,
  });
  expect(moved.body.consequences.map((each: Json) => [each.crewId, each.day])).toEqual([
    [t.crews.curlew, FRIDAY],
    [from, THURSDAY],
  ]);
  expect(await routeOf(t.crews.curlew, FRIDAY)).toEqual([a]);
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId)).toEqual([b]);
  expect((await call('GET', `/v1/plans/${proposal.id}`)).body.state).toBe('stale');
});

test('what a crew cannot do is refused, and the field is named', async () => {
  const dig = await t.order({ kit: ['excavator'] });
  const place = (more: object) =>
    call('POST', `/v1/work-orders/${dig}/placement`, {
      crewId: t.crews.heron,
      day: THURSDAY,
      afterWorkOrderId: null,
      ...more,
    });
  expect((await place({})).body).toMatchObject({
    status: 422,
    errors: [{ pointer: '#/crewId', detail: 'order 1 needs excavator, which the crew has not' }],
  });
  expect((await place({ day: '2026-10-03' })).body.errors[0].pointer).toBe('#/crewId'); // a Saturday
  expect((await place({ day: '2026-09-30' })).body.errors[0].pointer).toBe('#/day');
  expect((await place({ crewId: t.crews.curlew, afterWorkOrderId: dig })).body.errors[0].pointer).toBe(
    '#/afterWorkOrderId',
  );
  expect((await call('GET', `/v1/work-orders/${crypto.randomUUID()}/places`)).status).toBe(404);
  const monday = await t.order({ hours: [{ weekday: 'mon', from: '08:00', to: '16:00' }] });
  const shut = await call('POST', `/v1/work-orders/${monday}/placement`, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: null,
  });
  expect(shut.body.errors[0].detail).toBe(
    'the order cannot be placed: none of the coming working days is open to it (not before, hours, locate ticket, or what it follows)',
  );
});

test('locked to crew, hour and sequence the next plan keeps to it; unlocked it may move', async () => {
  const orders = [await t.order({ east: 1, north: 8 }), await t.order({ east: 2, north: 8 })];
  const [first, second] = orders as [string, string];
  const lock = { day: THURSDAY, crewId: t.crews.curlew, from: '13:00', to: '14:00' };
  const locked = await call('PUT', `/v1/work-orders/${first}/lock`, lock);
  expect(locked.body.lock).toEqual({ ...lock, sequence: null });
  await t.accept((await t.plan(today)).id);
  const { rows } = await t.pool.query(
    `SELECT s.starts_at, s.locked, r.crew_id FROM stop s JOIN route r ON r.id = s.route_id WHERE s.live AND work_order_id = $1`,
    [first],
  );
  expect(rows[0]).toMatchObject({ crew_id: t.crews.curlew, locked: true });
  // 13:00 to 14:00 in Chicago in October is 18:00 to 19:00 UTC.
  expect(rows[0]?.['starts_at'] >= '2026-10-01T18:00' && rows[0]?.['starts_at'] <= '2026-10-01T19:00').toBe(
    true,
  );
  expect((await call('DELETE', `/v1/work-orders/${first}/lock`)).body.lock).toBeNull();
  // Locked as it stands: day, crew and place of the live route.
  const kept = await call('PUT', `/v1/work-orders/${second}/lock`, { sequence: true });
  expect(kept.body.lock).toMatchObject({ day: THURSDAY, sequence: expect.any(Number), from: null });
  expect((await call('PUT', `/v1/work-orders/${await t.order()}/lock`, {})).status).toBe(422);
  // a Sunday: taken, no plan could keep it
  const idle = await call('PUT', `/v1/work-orders/${second}/lock`, { day: '2026-10-04' });
  expect([idle.status, idle.body.errors?.[0].detail]).toEqual([422, 'no crew works on 2026-10-04']);
});
