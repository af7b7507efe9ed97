import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = (url: string, payload?: object) =>
  t.call('dispatcher', { method: 'POST', url, ...(payload ? { payload } : {}) });
const place = (id: string, crewId: string, day = THURSDAY, after: string | null = null) =>
  t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${id}/placement`,
    headers: { 'if-match': '*' },
    payload: { crewId, day, afterWorkOrderId: after },
  });
const routeOf = async (crewId: string, day = THURSDAY): Promise<Json> =>
  (await get(`/v1/routes?day=${day}`)).items.find((route: Json) => route.crewId === crewId);
const bookOf = async (crewId: string, day = THURSDAY): Promise<Json> =>
  (await get(`/v1/days/${day}`)).crews.find((crew: Json) => crew.crewId === crewId);

test('the week per crew: who works, who and what is away, routes with totals', async () => {
  const { rows } = t.house.stores;
  const one = await t.order({ east: 1, north: 8, minutes: 90 });
  await place(one, t.crews.heron);
  await rows.insert('absence', {
    id: randomUUID(),
    crew_id: t.crews.plover,
    people: 1,
    from_day: THURSDAY,
    to_day: THURSDAY,
    reason: 'flu',
  });
  const [jetter] = await rows.all('kit_item', [{ column: 'name', is: '=', value: "Curlew's jetter" }]);
  await rows.insert('absence', {
    id: randomUUID(),
    kit_item_id: jetter?.['id'],
    from_day: FRIDAY,
    to_day: FRIDAY,
    reason: 'hose torn',
  });
  const { items } = await get(`/v1/days?from=${THURSDAY}&days=3`);
  expect(items.map(({ day }: Json) => day)).toEqual([THURSDAY, FRIDAY, '2026-10-03']);
  const [thursday, friday, saturday] = items;
  const of = (book: Json, id: string) => book.crews.find((crew: Json) => crew.crewId === id);
  expect(of(thursday, t.crews.heron).route).toMatchObject({
    state: 'not_published',
    visits: 1,
    ahead: 1,
    workSeconds: 5400,
  });
  expect(thursday.totals).toMatchObject({ crews: 3, visits: 1, workSeconds: 5400 });
  expect(of(thursday, t.crews.plover)).toMatchObject({
    works: true,
    people: 1,
    peopleUsually: 2,
    absences: [{ people: 1, reason: 'flu' }],
  });
  expect(of(friday, t.crews.curlew)).toMatchObject({
    kit: [{ kind: 'excavator' }],
    kitOut: [{ kind: 'jetter', reason: 'hose torn' }],
  });
  expect(saturday.totals.crews).toBe(0);
});

test('published, then changed: the crew sees what was added, removed and moved, and it stays on record', async () => {
  const [a, b, c, d] = [
    await t.order({ east: 1, north: 8 }),
    await t.order({ east: 2, north: 8 }),
    await t.order({ east: 3, north: 8 }),
    await t.order({ east: 4, north: 8 }),
  ];
  await place(a, t.crews.heron);
  await place(b, t.crews.heron, THURSDAY, a);
  await place(c, t.crews.heron, THURSDAY, b);
  expect(await routeOf(t.crews.heron)).toMatchObject({ publishedAt: null, changesSincePublished: [] });
  expect((await post(`/v1/days/${THURSDAY}/publication`)).body).toMatchObject({ published: 1 });
  expect((await post(`/v1/days/${THURSDAY}/publication`)).body).toMatchObject({ published: 0 });
  const told = await routeOf(t.crews.heron);
  expect(told).toMatchObject({ publishedBy: 'dispatcher', changesSincePublished: [] });

  await place(d, t.crews.heron, THURSDAY, c);
  await place(a, t.crews.plover);
  const changed = await routeOf(t.crews.heron);
  expect(changed.publishedAt).toBe(told.publishedAt);
  const kinds = Object.fromEntries(
    changed.changesSincePublished.map((each: Json) => [each.workOrderId, each.kind]),
  );
  // b and c now start an hour or so sooner: a was before them.
  expect(kinds).toEqual({ [a]: 'removed', [b]: 'time', [c]: 'time', [d]: 'added' });
  expect((await bookOf(t.crews.heron)).route.state).toBe('changed');
  // Who still holds the route from before is told which one counts.
  expect(await get(`/v1/routes/${told.id}`)).toMatchObject({ replacedById: changed.id });
  const { items } = await get(`/v1/routes/${changed.id}/changes`);
  expect(items).toHaveLength(2);
  expect(items[1].changes).toMatchObject([{ kind: 'added', workOrderId: d }]);
  expect(items[0]).toMatchObject({ madeBy: 'dispatcher' });
  const { rows: events } = await t.pool.query(
    `SELECT kind FROM event WHERE kind LIKE 'route%' ORDER BY created_at, id`,
  );
  expect(events.map(({ kind }) => kind)).toEqual(['route_published', 'route_changed', 'route_changed']);

  // Told again, nothing is news.
  expect((await post(`/v1/routes/${changed.id}/publication`)).body).toMatchObject({ times: 2 });
  expect((await routeOf(t.crews.heron)).changesSincePublished).toEqual([]);
});

test('a published route that lost all its visits is not silence', async () => {
  const a = await t.order({ east: 1, north: 8 });
  await place(a, t.crews.heron);
  await post(`/v1/days/${THURSDAY}/publication`);
  await place(a, t.crews.plover);
  const { gone } = await get(`/v1/routes?day=${THURSDAY}`);
  expect(gone).toMatchObject([
    { crewName: 'Heron', changesSincePublished: [{ kind: 'removed', workOrderId: a }] },
  ]);
});

test('closed at the end of the day: what was not done waits again, its promise is there to be phoned', async () => {
  const [done, late, shut] = [
    await t.order({ east: 1, north: 8 }),
    await t.order({ east: 2, north: 8 }),
    await t.order({ east: 3, north: 8 }),
  ];
  await t.promise(late, THURSDAY, '13:00', '15:00');
  await place(done, t.crews.heron);
  await place(late, t.crews.heron, THURSDAY, done);
  await place(shut, t.crews.heron, THURSDAY, late);
  const { id } = await routeOf(t.crews.heron);
  t.clock.at = new Date('2026-10-01T14:00:00Z');
  await post(`/v1/work-orders/${done}/start`, { startedAt: '2026-10-01T13:00:00Z', cautionsSeen: true });
  t.clock.at = new Date('2026-10-01T21:30:00Z');
  // With an attempt still running a day is not closed, unless said so.
  const running = await post(`/v1/routes/${id}/closing`, {});
  expect(running).toMatchObject({ status: 409, body: { type: '/problems/wrong-state' } });
  await post(`/v1/work-orders/${done}/finish`, {
    endedAt: '2026-10-01T15:00:00Z',
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  });
  const closed = await post(`/v1/routes/${id}/closing`, {
    notDone: [{ workOrderId: shut, reason: 'gate', note: 'chain on it' }],
  });
  expect(closed).toMatchObject({ status: 200, body: { done: 1, running: [] } });
  expect(closed.body.notDone).toMatchObject([
    // Out of time: the next day; a gate: two days, and somebody phones.
    { workOrderId: late, reason: 'out_of_time', notBefore: FRIDAY, promiseBroken: true },
    { workOrderId: shut, reason: 'gate', notBefore: '2026-10-03', promiseBroken: false, note: 'chain on it' },
  ]);
  expect(closed.body.toPhone).toMatchObject([
    { workOrderId: late, promised: { from: '13:00' }, contacts: [{ phone: '555 0100' }] },
  ]);
  const order = await get(`/v1/work-orders/${late}`);
  expect(order).toMatchObject({ state: 'wanted', notBefore: FRIDAY });
  expect(order.promises[0].endedBecause).toBe('not done: out of time');
  expect((await get(`/v1/work-orders/${shut}`)).waitsFor).toMatchObject([
    { kind: 'someone_home', state: 'open' },
  ]);
  expect((await bookOf(t.crews.heron)).route).toMatchObject({ state: 'closed', notDone: [{}, {}] });
  expect((await post(`/v1/routes/${id}/closing`, {})).status).toBe(409);
  // Nothing more is planned into a closed day.
  const again = await place(late, t.crews.heron);
  expect(again).toMatchObject({ status: 422 });
  const { items } = await get('/v1/unplaced-work?waiting=true');
  expect(items).toMatchObject([{ workOrderId: shut, waitsFor: [{ kind: 'someone_home' }] }]);
});

test('a visit that somebody must be home for is to be agreed until its day was told', async () => {
  const { rows } = t.house.stores;
  const home = await t.order({ east: 1, north: 8, task: 'inspect' });
  const outside = await t.order({ east: 2, north: 8, task: 'clear_outlet' });
  for (const id of [home, outside])
    await rows.update('site', String((await rows.get('work_order', id))?.['site_id']), {
      access: 'someone_home',
    });
  await place(home, t.crews.heron);
  await place(outside, t.crews.heron, THURSDAY, home);
  const { toAgree } = await get(`/v1/days/${THURSDAY}`);
  expect(toAgree).toMatchObject([
    { workOrderId: home, crewName: 'Heron', day: THURSDAY, contacts: [{ phone: '555 0100' }] },
  ]);
  await t.promise(home, THURSDAY, '08:00', '12:00');
  expect((await get(`/v1/days/${THURSDAY}`)).toAgree).toEqual([]);
});

test('a closing that makes no sense is refused by field, and changes nothing', async () => {
  const a = await t.order({ east: 1, north: 8 });
  await place(a, t.crews.heron);
  const { id } = await routeOf(t.crews.heron);
  const refused = await post(`/v1/routes/${id}/closing`, {
    notDone: [
      { workOrderId: a, reason: 'refused' },
      { workOrderId: randomUUID(), reason: 'gate' },
    ],
  });
  expect(refused.status).toBe(422);
  expect(refused.body.errors.map((each: Json) => each.pointer)).toEqual([
    '#/notDone/0/reason',
    '#/notDone/1/workOrderId',
  ]);
  const tomorrow = await t.order({ east: 2 });
  await place(tomorrow, t.crews.heron, FRIDAY);
  expect((await post(`/v1/routes/${(await routeOf(t.crews.heron, FRIDAY)).id}/closing`, {})).status).toBe(
    409,
  );
  expect((await routeOf(t.crews.heron)).closedAt).toBeNull();
});

test('with leave to run on, a day is closed around the crew that is still there; all crews at once', async () => {
  const [a, b] = [await t.order({ east: 1, north: 8 }), await t.order({ east: 2, north: 8 })];
  await place(a, t.crews.heron);
  await place(b, t.crews.plover);
  t.clock.at = new Date('2026-10-01T21:00:00Z');
  await post(`/v1/work-orders/${a}/start`, { startedAt: '2026-10-01T20:50:00Z', cautionsSeen: true });
  expect((await post(`/v1/days/${THURSDAY}/closing`, {})).status).toBe(409);
  // All or none: Plover's day is not closed either.
  expect((await bookOf(t.crews.plover)).route.state).toBe('not_published');
  const { body } = await post(`/v1/days/${THURSDAY}/closing`, { leaveRunning: true });
  expect(body.items).toMatchObject([
    { crewId: t.crews.heron, running: [a], notDone: [] },
    { crewId: t.crews.plover, running: [], notDone: [{ workOrderId: b }] },
  ]);
});

test('for a client on the phone: the next days, the cheapest place of each, dearer the farther it is', async () => {
  const near = await t.order({ east: 1, north: 8 });
  await place(near, t.crews.heron, FRIDAY);
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  const asked = await t.order({ east: 1.1, north: 8, row: { wanted_by: '2026-10-09' } });
  const { days } = await get(`/v1/work-orders/${asked}/days?workingDays=3`);
  expect(days.map(({ day }: Json) => day)).toEqual([THURSDAY, FRIDAY, '2026-10-05']);
  const [thursday, friday, monday] = days;
  // On Friday the crew drives past; on the other days it goes out for this house alone.
  expect(friday.place).toMatchObject({ extraMinor: 0, displaces: [] });
  expect(friday.text).toContain('the cheapest day');
  expect(friday.place.extraDriveMinutes).toBeLessThan(3);
  for (const other of [thursday, monday]) {
    expect(other.place.extraMinor).toBeGreaterThan(0);
    expect(other.place.extraDriveMinutes).toBeGreaterThan(3);
    expect(other.text).toContain('more than the cheapest day');
  }
  expect(friday.place.from < friday.place.to).toBe(true);
  // Told Friday, the promise names who told it and how; another day can still be looked for.
  const promise = await post('/v1/promises', {
    workOrderId: asked,
    day: FRIDAY,
    fromTime: friday.place.from,
    toTime: friday.place.to,
    toldTo: 'A. Reed',
    toldHow: 'phone',
  });
  expect(promise).toMatchObject({ status: 201, body: { toldBy: 'dispatcher', toldHow: 'phone' } });
  expect((await get(`/v1/days/${FRIDAY}`)).promises).toMatchObject([
    { standing: 'nowhere', toldBy: 'dispatcher' },
  ]);
  await place(asked, t.crews.heron, FRIDAY, near);
  expect((await get(`/v1/days/${FRIDAY}`)).promises).toMatchObject([
    { standing: 'planned', planned: { crewName: 'Heron', day: FRIDAY } },
  ]);
  expect((await get(`/v1/work-orders/${asked}/days?workingDays=3`)).days[2].possible).toBe(true);
});

test('a day that cannot be offered says the one reason of that day', async () => {
  const textsOf = async (id: string) =>
    (await get(`/v1/work-orders/${id}/days?workingDays=3`)).days.map(({ text }: Json) =>
      text.replaceAll('\u00A0', ' '),
    );
  // Only Heron has a camera: away on Friday, that day and no other is out.
  const seen = await t.order({ east: 1, north: 8, kit: ['camera'], task: 'inspect' });
  await t.house.stores.rows.insert('absence', {
    id: randomUUID(),
    crew_id: t.crews.heron,
    from_day: FRIDAY,
    to_day: FRIDAY,
    reason: 'flu',
  });
  const [thursday, friday, monday] = await textsOf(seen);
  expect(friday).toMatch(/^Fri 2 Oct 2026: no crew (has|with).*camera.*that day\.$/);
  for (const text of [thursday, monday]) expect(text).toContain('Heron');
  // Not before Monday, on the other days.
  const later = await t.order({
    east: 1,
    north: 8,
    row: { not_before: '2026-10-05', wanted_by: '2026-10-09' },
  });
  expect((await textsOf(later)).slice(0, 2)).toEqual([
    'Thu 1 Oct 2026: it may not be done that day.',
    'Fri 2 Oct 2026: it may not be done that day.',
  ]);
  // What no crew can do on any day: each day says that, and so does the whole.
  const never = await t.order({ east: 1, kit: ['cable_machine'], task: 'cable' });
  const { days, nowhere } = await get(`/v1/work-orders/${never}/days?workingDays=3`);
  for (const { possible, text } of days)
    expect([possible, text.includes(nowhere.text)]).toEqual([false, true]);
});

test('work without a place says why', async () => {
  const { rows } = t.house.stores;
  const waits = await t.order({ east: 1 });
  await rows.insert('precondition', { id: randomUUID(), work_order_id: waits, kind: 'parts' });
  const cable = await t.order({ east: 2, kit: ['cable_machine'], task: 'cable' });
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  await t.accept(plan.id);
  const fresh = await t.order({ east: 3 });
  const { items } = await get('/v1/unplaced-work');
  const of = (id: string) => items.find((each: Json) => each.workOrderId === id);
  expect(of(waits)).toMatchObject({
    because: [{ code: 'waits_for_precondition', text: 'waits for parts' }],
    waitsFor: [{ kind: 'parts', nextStep: 'order the parts, and say when they are there' }],
  });
  expect(of(cable).because[0].text).toMatch(/cable machine/);
  expect(of(fresh).because).toMatchObject([{ code: 'not_planned_yet' }]);
  expect((await get('/v1/unplaced-work?waiting=false')).items).toHaveLength(2);
});
