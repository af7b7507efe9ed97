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
  const placed = await t.place(emergency, {
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
  const placed = await t.place(emergency, {
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
  const tried = await t.place(promised, after);
  expect(tried.body.planId).toBeNull();
  const [consequence] = tried.body.consequences;
  expect(consequence.late).toMatchObject([{ workOrderId: promised, promised: true }]);
  expect(consequence.late[0].lateSeconds).toBeGreaterThan(4 * 3600);
  expect(tried.body.toPhone).toMatchObject([
    {
      workOrderId: promised,
      promised: { day: THURSDAY, from: '08:00', to: '09:00' },
      because: 'moved by hand (dispatcher)',
      contacts: [{ name: 'A. Reed', phone: '555 0100' }],
    },
  ]);
  expect(await routeOf(t.crews.heron)).toEqual([promised, other]);
  await t.place(promised, { ...after, tryOnly: false });
  expect(await routeOf(t.crews.heron)).toEqual([other, promised]);
});

test('moved to another crew and day both routes are driven anew, and a proposal of those days goes stale', async () => {
  const [a, b] = [await t.order({ north: 8 }), await t.order({ north: 9 })];
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 2 })).id);
  const from = (await t.live(THURSDAY)).find((stop) => stop.workOrderId === a)?.crewId ?? '';
  const proposal = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  const moved = await t.place(a, {
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
    t.place(dig, {
      crewId: t.crews.heron,
      day: THURSDAY,
      afterWorkOrderId: null,
      ...more,
    });
  expect((await place({})).body).toMatchObject({
    status: 422,
    errors: [
      { pointer: '#/crewId', detail: 'order 1: Heron is no crew with an excavator on Thu 1 Oct 2026' },
    ],
  });
  expect((await place({ day: '2026-10-03' })).body.errors[0].pointer).toBe('#/crewId'); // a Saturday
  expect((await place({ day: '2026-09-30' })).body.errors[0].pointer).toBe('#/day');
  expect((await place({ crewId: t.crews.curlew, afterWorkOrderId: dig })).body.errors[0].pointer).toBe(
    '#/afterWorkOrderId',
  );
  expect((await call('GET', `/v1/work-orders/${crypto.randomUUID()}/places`)).status).toBe(404);
  const monday = await t.order({ hours: [{ weekday: 'mon', from: '08:00', to: '16:00' }] });
  const shut = await t.place(monday, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: null,
  });
  expect(shut.body.errors[0].detail).toBe(
    'the order cannot be placed: none of the coming working days is open to it: the house is open mon 08:00–16:00 only',
  );
});

test('locked to crew, hour and sequence the next plan keeps to it; unlocked it may move', async () => {
  const orders = [await t.order({ east: 1, north: 8 }), await t.order({ east: 2, north: 8 })];
  const [first, second] = orders as [string, string];
  const lock = { day: THURSDAY, crewId: t.crews.curlew, from: '13:00', to: '14:00' };
  const locked = await call('PUT', `/v1/work-orders/${first}/lock`, lock);
  expect(locked.body.lock).toMatchObject({ ...lock, sequence: null });
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

test('a crew that would work into the night is told of in words: late, overtime and its cost, break, too little rest', async () => {
  await onlyHeron();
  const orders: string[] = [];
  for (const east of [1, 2, 3]) orders.push(await t.order({ east, north: 10, minutes: 300 }));
  const [one, two, three] = orders as [string, string, string];
  await t.promise(three, THURSDAY, '09:00', '11:00');
  t.clock.at = new Date('2026-10-01T17:00:00Z');
  const first = await t.place(one, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  // Noon in Chicago: 300 minutes and half an hour of break end after 17:30, the shift at 16:00.
  expect(first.body.warnings.map((each: Json) => each.code)).toEqual(['past_overtime']);
  await t.place(two, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: one });
  const tried = await t.place(three, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: two,
    tryOnly: true,
  });
  const [consequence] = tried.body.consequences;
  const said = Object.fromEntries(tried.body.warnings.map((each: Json) => [each.code, each]));
  expect(Object.keys(said)).toEqual(['late_start', 'rest_too_short', 'past_overtime']);
  expect(consequence.warnings).toEqual(tried.body.warnings);
  expect(said.late_start.text).toMatch(
    /^order 3 starts at 22:\d\d, 11 h \d\d after what was promised \(11:00\): phone the client$/,
  );
  // Three times five hours and half an hour of break after noon: past 03:30; the next shift begins at 07:30.
  expect(said.rest_too_short.text).toMatch(
    /^Heron is back at 3:[345]\d on Fri 2 Oct 2026: 3 h \d\d of rest before its next shift at 7:30 on Fri 2 Oct 2026, 10 h 00 are wanted$/,
  );
  const { overtimeSeconds, overtimeCostMinor } = consequence.after;
  // 90.00 an hour, half more in overtime.
  expect(overtimeCostMinor).toBe(Math.round((overtimeSeconds * 13_500) / 3600));
  expect(said.past_overtime.text).toMatch(
    /^Heron is back at 3:\d\d on Fri 2 Oct 2026, its shift ends at 16:00: 11 h \d\d of overtime, USD 1 5\d\d(\.\d+)?, where a plan uses at most 1 h 00$/,
  );
  const four = await t.order({ east: 4, north: 10, minutes: 300 });
  await t.place(three, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: two });
  const over = await t.place(four, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: three });
  expect([over.status, over.body.errors[0].pointer]).toEqual([422, '#/day']);
  expect(over.body.errors[0].detail).toMatch(
    /^Heron is back at 8:\d\d on Fri 2 Oct 2026, after its next shift began at 7:30 on Fri 2 Oct 2026$/,
  );
});

test('where there is no place, places, placing and the plan give one reason', async () => {
  const odd = await t.order({ kit: ['cable_machine'] });
  const plan = await t.plan(today);
  const { body } = await call('GET', `/v1/work-orders/${odd}/places?days=1`);
  expect(body.places).toEqual([]);
  expect(body.nowhere.text).toBe('no crew with a cable machine on Thu 1 Oct 2026');
  expect(plan.unplaced[0]).toMatchObject({ code: body.nowhere.code, text: body.nowhere.text });
  const placed = await t.place(odd, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  expect(placed.body.errors).toMatchObject([
    { pointer: '#/crewId', detail: 'order 1: Heron is no crew with a cable machine on Thu 1 Oct 2026' },
  ]);
  const shut = await t.order({ row: { not_before: '2026-12-01', wanted_by: null } });
  const offer = await call('GET', `/v1/work-orders/${shut}/places`);
  expect(offer.body.nowhere).toMatchObject({
    code: 'no_open_day',
    text: 'none of the coming working days is open to it: not before 2026-12-01',
  });
  const lawn = await t.order({ task: 'restore', row: { follows_id: odd, follows_after_days: 1 } });
  expect((await call('GET', `/v1/work-orders/${lawn}/places`)).body.nowhere.text).toBe(
    'must follow order 1, which is not placed',
  );
});

test('of six who place one order at once one does it, the others read it again', async () => {
  const order = await t.order({ north: 8 });
  const { body, headers } = await call('GET', `/v1/work-orders/${order}/places`);
  expect(headers['etag']).toBe(`"${body.version}"`);
  const placing = [t.crews.heron, t.crews.plover, t.crews.curlew].flatMap((crewId) =>
    [THURSDAY, FRIDAY].map((day) => ({ crewId, day, afterWorkOrderId: null })),
  );
  const answers = await Promise.all(placing.map((each) => t.place(order, each, body.version)));
  expect(answers.map(({ status }) => status).sort()).toEqual([200, 412, 412, 412, 412, 412]);
  const stops = [...(await t.live(THURSDAY)), ...(await t.live(FRIDAY))];
  expect(stops.map(({ workOrderId }) => workOrderId)).toEqual([order]);
  const blind = await call('POST', `/v1/work-orders/${order}/placement`, placing[0]);
  expect(blind.status).toBe(428);
  const winner = answers.find(({ status }) => status === 200);
  expect((await t.place(order, placing[0] ?? {}, winner.body.version)).status).toBe(200);
});

test('what moves by a plan moves on by its new version only', async () => {
  const orders = [await t.order({ north: 8 }), await t.order({ north: 9 })];
  await t.accept((await t.plan(today)).id);
  const [order] = orders as [string];
  const { body } = await call('GET', `/v1/work-orders/${order}`);
  const sick = (await t.live(THURSDAY)).find((stop) => stop.workOrderId === order)?.crewId;
  await call('POST', '/v1/disruptions', { kind: 'crew_sick', crewId: sick });
  await t.work();
  const [plan] = (await call('GET', '/v1/plans?state=proposed')).body.items;
  await t.accept(plan.id);
  const late = await t.place(
    order,
    { crewId: t.crews.curlew, day: FRIDAY, afterWorkOrderId: null },
    body.version,
  );
  expect(late.status).toBe(412);
});

test('a promise against which a person locks, and a crew nobody knows, are told as such', async () => {
  const order = await t.order({ north: 8 });
  await t.promise(order, THURSDAY);
  await call('PUT', `/v1/work-orders/${order}/lock`, { day: FRIDAY });
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  expect(plan.toPhone).toMatchObject([
    { workOrderId: order, because: 'locked by a person on 2026-10-02, against what was promised' },
  ]);
  const nobody = crypto.randomUUID();
  const fault = { pointer: '#/crewId', detail: `there is no crew ${nobody}` };
  expect((await call('PUT', `/v1/work-orders/${order}/lock`, { crewId: nobody })).body.errors).toMatchObject([
    fault,
  ]);
  const placed = await t.place(order, { crewId: nobody, day: THURSDAY, afterWorkOrderId: null });
  expect(placed.body.errors).toMatchObject([fault]);
});

test('a crew behind its own stops is told as such, and no place on it is offered', async () => {
  await onlyHeron();
  const orders: string[] = [];
  for (const east of [1, 2]) orders.push(await t.order({ east, north: 10, minutes: 200 }));
  await t.accept((await t.plan(today)).id);
  // Two in the afternoon, and nothing of the day was begun: 400 minutes do not end by five.
  t.clock.at = new Date('2026-10-01T19:00:00Z');
  const asked = await t.order({ east: 3, north: 10 });
  const { body } = await call('GET', `/v1/work-orders/${asked}/places?days=1`);
  expect(body.places).toEqual([]);
  expect(body.nowhere).toMatchObject({ code: 'crew_behind', facts: { crewId: t.crews.heron, stops: 2 } });
  expect(body.warnings[0].text).toMatch(
    /^Heron cannot keep to its 2 stops ahead on Thu 1 Oct 2026 as they stand: no place on it is offered/,
  );
});

test('what cannot wait gets its place on a crew that is behind: what that one cannot reach gives way', async () => {
  await onlyHeron();
  const orders: string[] = [];
  for (const east of [1, 2, 3]) orders.push(await t.order({ east, north: 10, minutes: 140 }));
  await t.promise(orders[2] ?? '', THURSDAY);
  await t.accept((await t.plan(today)).id);
  // Ten past eleven: three times 140 minutes do not end by five, two and the call do.
  t.clock.at = new Date('2026-10-01T16:10:00Z');
  const emergency = await t.order({
    east: 3,
    north: 10,
    minutes: 45,
    row: { respond_by: '2026-10-01T19:00:00Z', cause: 'call' },
  });
  const { body } = await call('GET', `/v1/work-orders/${emergency}/places?days=1`);
  expect(body.warnings[0].text).toContain('a place on it displaces what it cannot reach');
  const [best] = body.places;
  const displaced = best.displaces.map(({ workOrderId }: Json) => workOrderId);
  expect(displaced.length).toBeGreaterThanOrEqual(1);
  expect(displaced).not.toContain(orders[2]);
  expect(best.startsAt <= '2026-10-01T19:00:00Z').toBe(true);
  const placed = await t.place(emergency, {
    crewId: best.crewId,
    day: best.day,
    afterWorkOrderId: best.afterWorkOrderId,
    displaces: displaced,
  });
  expect(placed.status, JSON.stringify(placed.body)).toBe(200);
  expect(placed.body.consequences[0].late).toEqual([]);
  const left = await routeOf(t.crews.heron);
  expect(left).toContain(emergency);
  expect(left).toContain(orders[2]);
  for (const id of displaced) expect(left).not.toContain(id);
});

test('a day beyond those that can be changed together is named with the last of them', async () => {
  const order = await t.order();
  await t.accept((await t.plan(today)).id);
  const refused = await t.place(order, {
    crewId: t.crews.heron,
    day: '2028-01-05',
    afterWorkOrderId: null,
    tryOnly: true,
  });
  expect(refused.status).toBe(422);
  // Ten working days, Monday to Friday, from Thursday 1 October on: until Wednesday the 14th.
  expect(refused.body.errors[0].detail).toBe(
    '2028-01-05 is beyond the 10 working days that can be changed together, from 2026-10-01 on: the last is 2026-10-14',
  );
});
