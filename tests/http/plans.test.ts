import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
});

const post = (url: string, payload: object = {}) => t.call('dispatcher', { method: 'POST', url, payload });
const get = (url: string) => t.call('dispatcher', { method: 'GET', url });
const today = { fromDay: THURSDAY, workingDays: 1 };
const crewOf = async (workOrderId: string, day = THURSDAY) =>
  (await t.live(day)).find((stop) => stop.workOrderId === workOrderId)?.crewId;

test('a plan is asked for, searched in the background, looked at and accepted', async () => {
  const orders = [await t.order({ east: 1 }), await t.order({ east: 2 }), await t.order({ north: -5 })];
  const asked = await post('/v1/plans', { ...today, because: 'a new crew' });
  expect(asked.status).toBe(202);
  expect(asked.headers['location']).toBe(`/v1/plans/${asked.body.id}`);
  expect(asked.body).toMatchObject({ state: 'searching', progress: 0, fromDay: THURSDAY, toDay: THURSDAY });
  await t.work();
  const { body } = await get(`/v1/plans/${asked.body.id}`);
  expect(body).toMatchObject({ state: 'proposed', progress: 1, because: 'a new crew', changedSince: [] });
  expect(body.changes.items.map((item: Json) => [item.kind, item.workOrderId]).sort()).toEqual(
    orders.map((id) => ['added', id]).sort(),
  );
  // nothing is driven before it is accepted
  expect(await t.live(THURSDAY)).toEqual([]);
  const accepted = await t.accept(body.id);
  expect(accepted.body).toMatchObject({ state: 'accepted', acceptedBy: 'dispatcher' });
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId).sort()).toEqual([...orders].sort());
  expect((await get(`/v1/work-orders/${orders[0]}`)).body.state).toBe('placed');
  expect((await t.accept(body.id)).status).toBe(409);
  expect((await get('/v1/plans?state=accepted')).body.items).toHaveLength(1);
  expect((await get(`/v1/plans?day=${FRIDAY}`)).body.items).toHaveLength(0);
});

test('a plan that rests on what has changed is refused, says what, and stays stale', async () => {
  const longer = await t.order({ east: 1 });
  const gone = await t.order({ east: 2 });
  await t.order({ east: 3 });
  const plan = await t.plan(today);
  await t.house.stores.rows.update('work_order', longer, { minutes: 90 });
  await t.house.stores.rows.update('work_order', gone, { state: 'withdrawn', withdrawn_because: 'sold' });
  const { body } = await get(`/v1/plans/${plan.id}`);
  const texts = body.changedSince.map((reason: Json) => reason.text).sort();
  expect(texts).toEqual(['order 1: minutes 60 → 90', 'order 2 is done or withdrawn']);
  const refused = await t.accept(plan.id);
  expect(refused.status).toBe(409);
  expect(refused.body.type).toBe('/problems/plan-stale');
  expect(refused.body.facts.changed.sort()).toEqual(texts);
  expect((await get(`/v1/plans/${plan.id}`)).body).toMatchObject({ state: 'stale' });
  expect(await t.live(THURSDAY)).toEqual([]);
});

test('a crew that loses its kit, or another plan accepted meanwhile, makes it stale too', async () => {
  await t.order({ kit: ['jetter'] });
  const [first, second] = [await t.plan(today), await t.plan(today)];
  expect((await t.accept(second.id)).status).toBe(200);
  const stale = (await get(`/v1/plans/${first.id}`)).body;
  expect(stale).toMatchObject({ state: 'stale', staleBecause: [{ code: 'other_plan_accepted' }] });
  const third = await t.plan(today);
  await t.pool.query(`UPDATE crew_kit SET to_day = '2026-10-01'`);
  const { body } = await get(`/v1/plans/${third.id}`);
  expect(body.changedSince.some((reason: Json) => reason.text.endsWith(': kit changed'))).toBe(true);
});

test.each([
  [
    'a shift that starts later',
    `UPDATE shift SET starts_at = '11:00', break_after = '13:00'`,
    ['Heron on Thu 1 Oct 2026: start of shift 7:30 → 11:00, breaks changed'],
  ],
  [
    'a shift without its break',
    'UPDATE shift SET break_minutes = 0',
    ['Heron on Thu 1 Oct 2026: breaks changed'],
  ],
  [
    'a smaller tank',
    `UPDATE kit_item SET tank_l = 200 WHERE kind = 'jetter'`,
    ['Heron on Thu 1 Oct 2026: litres of water 1000 → 200'],
  ],
  [
    'a shared machine under repair',
    `INSERT INTO absence (id, kit_item_id, from_day, to_day, reason)
       SELECT gen_random_uuid(), id, '2026-10-01', '2026-10-01', 'repair' FROM kit_item WHERE kind = 'cable_machine'`,
    ["Heron on Thu 1 Oct 2026: the yard's cable machine cannot be fetched any more"],
  ],
])('%s after the proposal makes it stale', async (_, change, texts) => {
  const { rows } = t.house.stores;
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  await t.pool.query(`UPDATE kit_item SET tank_l = 1000 WHERE kind = 'jetter'`);
  await rows.insert('kit_item', {
    id: crypto.randomUUID(),
    name: "the yard's cable machine",
    kind: 'cable_machine',
    depot_id: t.depots.north,
  });
  await t.order({ east: 1, kit: ['jetter'], row: { water_l: 150 } });
  await t.order({ east: 2, kit: ['cable_machine'], row: { water_l: 150 } });
  const plan = await t.plan(today);
  expect([plan.changedSince, plan.unplaced]).toEqual([[], []]);
  await t.pool.query(change);
  const refused = await t.accept(plan.id);
  expect(refused.status).toBe(409);
  expect(refused.body.facts.changed).toEqual(texts);
  expect(await t.live(THURSDAY)).toEqual([]);
});

test('what the basis does not name the independent checker finds: a plan that runs dry is stale', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  await t.pool.query(`UPDATE kit_item SET tank_l = 400, waste_l = 1000 WHERE kind = 'jetter'`);
  for (const east of [1, 2]) await t.order({ east, row: { water_l: 150 } });
  const plan = await t.plan(today);
  expect(plan.changedSince).toEqual([]);
  await t.pool.query(`UPDATE work_order SET water_l = 250`);
  const refused = await t.accept(plan.id);
  expect(refused.body.facts.changed).toContainEqual(
    expect.stringMatching(/^Heron runs out of water on Thu 1 Oct 2026 at order ([12]), \1 Marsh Gate$/),
  );
  await t.pool.query(`UPDATE kit_item SET tank_l = 200 WHERE kind = 'jetter'`);
  await t.pool.query(`UPDATE work_order SET water_l = 150`);
  const again = await t.plan(today);
  await t.pool.query('UPDATE depot SET water = false, disposal = false');
  expect((await t.accept(again.id)).body.facts.changed.join()).toMatch(
    /Heron was to fill or empty its tanks at .*, and no depot does that there any more/,
  );
});

test('two people accept two plans for one day at once: one wins, the other is told', async () => {
  await t.order();
  const plans = [await t.plan(today), await t.plan(today)];
  const answers = await Promise.all(plans.map((plan) => t.accept(plan.id)));
  expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
  expect(await t.live(THURSDAY)).toHaveLength(1);
});

test('discarded while it is searched, it proposes nothing', async () => {
  await t.order();
  const { body } = await post('/v1/plans', today);
  expect((await post(`/v1/plans/${body.id}/discarding`)).body.state).toBe('discarded');
  await t.work();
  expect((await get(`/v1/plans/${body.id}`)).body).toMatchObject({ state: 'discarded', summary: {} });
  expect((await post(`/v1/plans/${body.id}/search-end`)).status).toBe(409);
});

test('days that are over, and days without crews, are refused', async () => {
  const past = await post('/v1/plans', { fromDay: '2026-09-30' });
  expect(past.status).toBe(422);
  expect(past.body.errors[0].pointer).toBe('#/fromDay');
  await t.pool.query('DELETE FROM shift');
  expect((await post('/v1/plans', today)).status).toBe(422);
});

test('each order left out says why, and where it would go', async () => {
  const dig = await t.order({ kit: ['cable_machine'] });
  const waits = await t.order();
  await t.house.stores.rows.insert('precondition', {
    id: crypto.randomUUID(),
    work_order_id: waits,
    kind: 'consent',
  });
  const long = await t.order({ minutes: 480, east: 90 });
  const plan = await t.plan(today);
  const why = Object.fromEntries(plan.unplaced.map((left: Json) => [left.workOrderId, left.text]));
  expect(why[dig]).toBe('no crew with a cable machine on Thu 1 Oct 2026');
  expect(why[waits]).toBe('waits for consent');
  expect(why[long]).toMatch(
    /^with \d h \d+ min of driving it does not fit into the shift of any able crew on Thu 1 Oct 2026$/,
  );
});

test('a lawn follows its dig, and waits with it', async () => {
  const dig = await t.order({ kit: ['excavator'], task: 'dig_and_replace', minutes: 120 });
  const lawn = await t.order({ task: 'restore', row: { follows_id: dig, follows_after_days: 1 } });
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  const dayOf = (id: string) => plan.changes.items.find((item: Json) => item.workOrderId === id)?.to.day;
  expect([dayOf(dig), dayOf(lawn)]).toEqual([THURSDAY, FRIDAY]);
  await t.pool.query(`UPDATE kit_item SET archived_on = '2026-09-01' WHERE kind = 'excavator'`);
  const without = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  const why = without.unplaced.find((left: Json) => left.workOrderId === lawn);
  expect(why.text).toMatch(/^must follow order \d+, which is not placed$/);
});

test('what crews drive on other days keeps its place, and who follows it comes after', async () => {
  const dig = await t.order({ kit: ['excavator'], task: 'dig_and_replace', minutes: 120 });
  await t.accept((await t.plan(today)).id);
  expect(await crewOf(dig)).toBe(t.crews.curlew);
  const lawn = await t.order({ task: 'restore', row: { follows_id: dig, follows_after_days: 1 } });
  const friday = await t.plan({ fromDay: FRIDAY, workingDays: 1 });
  expect(friday.changes.items).toMatchObject([{ kind: 'added', workOrderId: lawn, to: { day: FRIDAY } }]);
  await t.accept(friday.id);
  // The dig is still today's, and a plan of today does not pull Friday's lawn in.
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId)).toEqual([dig]);
  const again = await t.plan(today);
  expect(again.changes.items).toEqual([]);
  expect(again.unplaced).toEqual([]);
});

test('the winter of one depot sends the work to the other', async () => {
  const jet = await t.order({ kit: ['jetter'], north: 8 });
  await t.house.stores.rows.insert('closed_season', {
    id: crypto.randomUUID(),
    depot_id: t.depots.north,
    tasks: ['jet'],
    from_day: THURSDAY,
    to_day: THURSDAY,
    reason: 'frost',
  });
  await t.accept((await t.plan(today)).id);
  expect(await crewOf(jet)).toBe(t.crews.curlew);
});

test('a crew known to be slow at a task gets its own minutes', async () => {
  const rows = t.house.stores.rows;
  for (let i = 0; i < 12; i++) {
    const done = await t.order();
    await rows.update('work_order', done, { state: 'done', done_at: '2026-09-20T15:00:00Z' });
    await rows.insert('attempt', {
      id: crypto.randomUUID(),
      work_order_id: done,
      crew_id: t.crews.heron,
      author: 'x',
      started_at: '2026-09-20T13:00:00Z',
      ended_at: '2026-09-20T15:00:00Z',
      result: 'done',
    });
  }
  const order = await t.order({ kit: ['camera'], east: 1 });
  await t.accept((await t.plan(today)).id);
  const { rows: stops } = await t.pool.query(
    `SELECT extract(epoch FROM ends_at - starts_at) / 60 AS minutes FROM stop WHERE work_order_id = $1`,
    [order],
  );
  // Twelve times twice the plan: log 2 × 12 × .0225 / (12 × .0225 + .1225) = .4769; 60 × e^.4769 = 96.7, whole minutes.
  expect(Number(stops[0]?.['minutes'])).toBe(97);
});

test('refill stops where the tank does not last', async () => {
  await t.pool.query(`UPDATE kit_item SET tank_l = 500, waste_l = 10000 WHERE kind = 'jetter'`);
  await t.pool.query(`DELETE FROM shift WHERE crew_id <> $1`, [t.crews.heron]);
  for (const east of [1, 2, 3]) await t.order({ east, north: 5, row: { water_l: 300 } });
  await t.accept((await t.plan(today)).id);
  const { rows } = await t.pool.query(
    `SELECT s.kind, s.depot_id FROM stop s JOIN route r ON r.id = s.route_id WHERE r.state = 'live' AND s.kind <> 'break' ORDER BY position`,
  );
  // 500 L do one house of 300: a fill before the second and the third.
  expect(rows.map((row) => row['kind'])).toEqual(['visit', 'refill', 'visit', 'refill', 'visit']);
  const routes = await get(`/v1/routes?day=${THURSDAY}`);
  const refills = routes.body.items[0].stops.filter((stop: Json) => stop.kind === 'refill');
  expect(refills.map((stop: Json) => stop.depot.name)).toEqual(['North yard', 'North yard']);
});

test('a day tells its driving, waiting, work and overtime with what it costs, each route and all of them', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  // At the yard's own gate: 510 minutes and half an hour of break from 7:30 end at 16:30, half an hour late.
  await t.order({ north: 10, minutes: 510 });
  await t.accept((await t.plan(today)).id);
  const { body } = await get(`/v1/routes?day=${THURSDAY}`);
  const [route] = body.items;
  // 90.00 an hour and half more: 135.00 × ½.
  expect(route).toMatchObject({ overtimeSeconds: 1800, overtimeCostMinor: 6750, workSeconds: 510 * 60 });
  expect(body.totals).toEqual({
    routes: 1,
    stops: 1,
    driveSeconds: route.driveSeconds,
    driveMetres: route.driveMetres,
    workSeconds: 510 * 60,
    waitSeconds: 0,
    overtimeSeconds: 1800,
    overtimeCostMinor: 6750,
  });
});

test('on a holiday of the business no crew works', async () => {
  const made = await post('/v1/holidays', { day: THURSDAY, name: 'Wexley Day' });
  expect(made.status).toBe(201);
  expect((await post('/v1/holidays', { day: THURSDAY, name: 'twice' })).status).toBe(409);
  const order = await t.order();
  const plan = await t.plan(today);
  expect([plan.fromDay, plan.toDay]).toEqual([FRIDAY, FRIDAY]);
  const locked = await t.call('dispatcher', {
    method: 'PUT',
    url: `/v1/work-orders/${order}/lock`,
    payload: { day: THURSDAY },
  });
  expect(locked.body.errors[0].detail).toBe(`no crew works on ${THURSDAY} (Wexley Day)`);
  const placed = await t.place(order, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  expect(placed.body.errors[0].detail).toBe(`Heron does not work on ${THURSDAY}: Wexley Day`);
});

test('two orders of one house are one stop after the other; where they cannot be, the plan says so', async () => {
  const [first, second, far] = [
    await t.order({ north: 4 }),
    await t.order({ north: -9 }),
    await t.order({ north: 9 }),
  ];
  await t.pool.query(
    'UPDATE work_order SET site_id = (SELECT site_id FROM work_order WHERE id = $1) WHERE id = $2',
    [first, second],
  );
  const plan = await t.plan(today);
  expect(plan.warnings).toEqual([]);
  await t.accept(plan.id);
  const { rows } = await t.pool.query(
    `SELECT s.travel_s, s.work_order_id, s.route_id FROM stop s JOIN route r ON r.id = s.route_id WHERE s.live ORDER BY s.route_id, s.position`,
  );
  const at = rows.findIndex((row) => [first, second].includes(String(row['work_order_id'])));
  expect([first, second]).toContain(rows[at + 1]?.['work_order_id']);
  expect([rows[at + 1]?.['travel_s'], rows[at + 1]?.['route_id']]).toEqual([0, rows[at]?.['route_id']]);
  expect(rows.map((row) => row['work_order_id'])).toContain(far);
  await t.call('dispatcher', {
    method: 'PUT',
    url: `/v1/work-orders/${second}/lock`,
    payload: { day: FRIDAY },
  });
  const apart = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  expect(apart.warnings).toMatchObject([{ code: 'house_visited_twice' }]);
  expect(apart.warnings[0].text).toMatch(
    /^0 Marsh Gate, Brindle is driven to twice: order 1 \(\w+, Thu 1 Oct 2026\) and order 2 \(\w+, Fri 2 Oct 2026\)\. One visit may do/,
  );
});

test('who would have to give way is told by number, client and hour', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  const dear = await t.order({ minutes: 400, row: { wanted_by: THURSDAY } });
  const client = crypto.randomUUID();
  await t.house.stores.rows.insert('client', { id: client, name: 'B. Sedge' });
  await t.pool.query(
    'INSERT INTO site_client (id, site_id, client_id) SELECT gen_random_uuid(), site_id, $2 FROM work_order WHERE id = $1',
    [dear, client],
  );
  const cheap = await t.order({ minutes: 400, row: { wanted_by: '2027-06-01' } });
  const plan = await t.plan(today);
  const [left] = plan.unplaced;
  expect(left).toMatchObject({ workOrderId: cheap, code: 'no_time_left' });
  expect(left.cheapestPlace.displaces).toMatchObject([
    { workOrderId: dear, number: 1, address: '0 Marsh Gate', client: 'B. Sedge', promised: false },
  ]);
  expect(left.cheapestPlace.displaces[0].startsAt).toMatch(/^2026-10-01T1\d:/);
});
