import { beforeEach, expect, test } from 'vitest';
import { RAIN_TASKS } from '../../src/domain/work/closedSeason.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
});

const call = (method: 'GET' | 'POST', url: string, payload?: object) =>
  t.call('dispatcher', { method, url, ...(payload ? { payload } : {}) });
const routeOf = async (crewId: string, day = THURSDAY) =>
  (await t.live(day)).filter((stop) => stop.crewId === crewId).map((stop) => stop.workOrderId);
const week = { fromDay: THURSDAY, workingDays: 2 };

/** Reports, has the plan searched, and answers with both. */
async function disrupt(payload: object): Promise<{ reported: Json; plan: Json }> {
  const reported = await call('POST', '/v1/disruptions', payload);
  if (reported.status !== 202) throw new Error(reported.text);
  await t.work();
  return { reported: reported.body, plan: (await call('GET', `/v1/plans/${reported.body.plan.id}`)).body };
}

const start = (orderId: string, at: string) =>
  call('POST', `/v1/work-orders/${orderId}/start`, { startedAt: at, cautionsSeen: true });
const finish = (orderId: string, at: string) =>
  call('POST', `/v1/work-orders/${orderId}/finish`, {
    endedAt: at,
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  });

test('a crew calls in sick: its stops go to others, what was promised is kept', async () => {
  for (const east of [1, 2, 3, 4]) await t.order({ east, north: 8 });
  const promised = await t.order({ east: 5, north: 8 });
  await t.promise(promised, THURSDAY);
  await t.accept((await t.plan(week)).id);
  const sick = (await t.live(THURSDAY))[0]?.crewId ?? '';
  const { plan } = await disrupt({ kind: 'crew_sick', crewId: sick, note: 'flu' });
  expect(plan).toMatchObject({ state: 'proposed', toPhone: [], unplaced: [] });
  expect(plan.because).toMatch(/sick: flu$/);
  expect(plan.changes.items.every((item: Json) => item.to?.crewId !== sick)).toBe(true);
  await t.accept(plan.id);
  expect(await routeOf(sick)).toEqual([]);
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId)).toContain(promised);
});

test('sick when nobody else can: the promise is moved, and is there to be phoned', async () => {
  const dig = await t.order({ kit: ['excavator'], task: 'dig_and_replace', people: 2, minutes: 120 });
  await t.promise(dig, THURSDAY, '08:00', '12:00');
  await t.accept((await t.plan(week)).id);
  const { reported, plan } = await disrupt({ kind: 'crew_sick', crewId: t.crews.curlew });
  expect(reported.toPhone).toMatchObject([{ workOrderId: dig, planned: null }]);
  expect(plan.warnings).toMatchObject([{ code: 'promise_cannot_be_kept', facts: { workOrderId: dig } }]);
  expect(plan.toPhone).toMatchObject([
    {
      workOrderId: dig,
      promised: { day: THURSDAY, from: '08:00', to: '12:00' },
      planned: { day: FRIDAY, crewId: t.crews.curlew },
      contacts: [{ phone: '555 0100' }],
    },
  ]);
});

test('one short, a crew keeps what one can do and loses what takes two', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id = ANY ($1)', [[t.crews.plover, t.crews.curlew]]);
  const look = await t.order({ people: 1, north: 10, task: 'inspect' });
  const jet = await t.order({ people: 2, north: 10, east: 20, kit: ['jetter'] });
  await t.accept((await t.plan(week)).id);
  const { plan } = await disrupt({ kind: 'crew_short', crewId: t.crews.heron });
  await t.accept(plan.id);
  expect(await routeOf(t.crews.heron)).toEqual([look]);
  expect(await routeOf(t.crews.heron, FRIDAY)).toEqual([jet]);
});

test('broken down at noon: what is done stays on its route, the rest goes on from where each crew is', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id = $1', [t.crews.curlew]);
  const orders: string[] = [];
  for (const east of [1, 3, 5, 7]) orders.push(await t.order({ east, north: 8, minutes: 90 }));
  for (const id of orders)
    await t.place(id, {
      crewId: t.crews.heron,
      day: THURSDAY,
      afterWorkOrderId: orders[orders.indexOf(id) - 1] ?? null,
    });
  const [one, two, three, four] = orders as [string, string, string, string];
  t.clock.at = new Date('2026-10-01T15:00:00Z');
  await start(one, '2026-10-01T13:00:00Z');
  expect((await finish(one, '2026-10-01T14:30:00Z')).status).toBe(200);
  await start(two, '2026-10-01T14:45:00Z');
  const { plan } = await disrupt({ kind: 'crew_broken_down', crewId: t.crews.heron, day: THURSDAY });
  expect((await t.accept(plan.id)).status).toBe(200);
  // Done and under way stay with the crew that did them; the two others go to Plover, not before now.
  expect(await routeOf(t.crews.heron)).toEqual([one, two]);
  expect((await routeOf(t.crews.plover)).sort()).toEqual([three, four].sort());
  const { rows } = await t.pool.query(
    `SELECT min(s.starts_at) AS first FROM stop s JOIN route r ON r.id = s.route_id WHERE r.state = 'live' AND r.crew_id = $1`,
    [t.crews.plover],
  );
  expect(new Date(String(rows[0]?.['first'])) > t.clock.at).toBe(true);
  t.clock.at = new Date('2026-10-01T16:00:00Z');
  expect((await finish(two, '2026-10-01T16:00:00Z')).status).toBe(200);
});

test('broken down for an hour: the crew goes on from where it stands', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  const [one, two] = [await t.order({ east: 1, north: 8 }), await t.order({ east: 20, north: 8 })];
  for (const [id, after] of [
    [one, null],
    [two, one],
  ] as const)
    await t.place(id, {
      crewId: t.crews.heron,
      day: THURSDAY,
      afterWorkOrderId: after,
    });
  t.clock.at = new Date('2026-10-01T14:00:00Z');
  await start(one, '2026-10-01T13:00:00Z');
  await finish(one, '2026-10-01T14:00:00Z');
  const { plan } = await disrupt({
    kind: 'crew_broken_down',
    crewId: t.crews.heron,
    backAt: '2026-10-01T15:30:00Z',
  });
  await t.accept(plan.id);
  const { rows } = await t.pool.query(
    `SELECT s.starts_at, s.travel_m FROM stop s JOIN route r ON r.id = s.route_id WHERE r.state = 'live' AND s.work_order_id = $1`,
    [two],
  );
  // From the first house: 0.19° of longitude at 44.58° is 6 371 km × 0.19 × π/180 × cos 44.58° = 15.05 km, × 1.3 = 19.56 km.
  expect(Number(rows[0]?.['travel_m'])).toBeCloseTo(19_560, -2);
  // 19.56 km at 50 km/h are 23.5 minutes after 15:30.
  expect(String(rows[0]?.['starts_at']).slice(0, 16)).toBe('2026-10-01T15:53');
});

test('rain drops digs and outside jetting, keeps indoor work, and lists the promises to phone', async () => {
  const dig = await t.order({ kit: ['excavator'], task: 'dig_and_replace', people: 2, minutes: 120 });
  const yard = await t.order({ kit: ['jetter'], east: 1 });
  const indoor = await t.order({ kit: ['jetter'], lineKind: 'floor_drain', east: 2 });
  await t.promise(yard, THURSDAY, '09:00', '15:00');
  await t.promise(indoor, THURSDAY);
  await t.accept((await t.plan(week)).id);
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId).sort()).toEqual([dig, yard, indoor].sort());
  const { reported, plan } = await disrupt({ kind: 'rain' });
  expect(reported.toPhone.map((each: Json) => each.workOrderId)).toEqual([yard]);
  expect(plan.toPhone).toMatchObject([
    { workOrderId: yard, promised: { day: THURSDAY, from: '09:00', to: '15:00' }, planned: { day: FRIDAY } },
  ]);
  await t.accept(plan.id);
  expect((await t.live(THURSDAY)).map((stop) => stop.workOrderId)).toEqual([indoor]);
  expect((await t.live(FRIDAY)).map((stop) => stop.workOrderId).sort()).toEqual([dig, yard].sort());
});

test('what makes no sense is refused by field', async () => {
  const refused = async (payload: object) => {
    const { status, body } = await call('POST', '/v1/disruptions', payload);
    return [status, body.errors?.[0]?.pointer];
  };
  const crewId = t.crews.heron;
  expect(await refused({ kind: 'crew_sick', crewId, day: '2026-09-30' })).toEqual([422, '#/day']);
  expect(await refused({ kind: 'crew_sick', crewId, toDay: '2026-09-30' })).toEqual([422, '#/toDay']);
  expect(await refused({ kind: 'crew_sick', crewId: crypto.randomUUID() })).toEqual([422, '#/crewId']);
  expect(await refused({ kind: 'crew_broken_down', crewId, backAt: '2026-10-01T03:00:00Z' })).toEqual([
    422,
    '#/backAt',
  ]);
  expect((await refused({ kind: 'hail' }))[0]).toBe(400);
  expect(
    (await t.call('technician', { method: 'POST', url: '/v1/disruptions', payload: { kind: 'rain' } }))
      .status,
  ).toBe(403);
});

test('what cannot be is refused: no shift, gone home, more people than there are, a stranger, twice', async () => {
  const crewId = t.crews.heron;
  const fault = async (payload: object) => {
    const { status, body } = await call('POST', '/v1/disruptions', payload);
    return [status, body.errors?.[0]?.pointer, body.errors?.[0]?.detail];
  };
  const saturday = '2026-10-03';
  expect(await fault({ kind: 'crew_sick', crewId, day: saturday })).toEqual([
    422,
    '#/day',
    'Heron has no shift on 2026-10-03',
  ]);
  expect(await fault({ kind: 'rain', day: saturday })).toEqual([422, '#/day', 'no crew works on 2026-10-03']);
  expect(await fault({ kind: 'crew_short', crewId, people: 12 })).toEqual([
    422,
    '#/people',
    'Heron is 2 people on 2026-10-01: 12 cannot be away',
  ]);
  expect((await fault({ kind: 'crew_short', crewId, memberId: crypto.randomUUID() }))[1]).toBe('#/memberId');
  expect((await fault({ kind: 'rain', depotId: crypto.randomUUID() }))[1]).toBe('#/depotId');
  await disrupt({ kind: 'crew_sick', crewId, note: 'flu' });
  expect(await fault({ kind: 'crew_short', crewId })).toEqual([
    422,
    '#/crewId',
    'Heron is away on 2026-10-01 already (flu)',
  ]);
  await disrupt({ kind: 'rain' });
  expect((await fault({ kind: 'rain' }))[2]).toBe(
    'rain or a closed season is on record for 2026-10-01 already',
  );
  t.clock.at = new Date('2026-10-01T21:30:00Z'); // half past four, shifts end at four
  expect((await fault({ kind: 'crew_broken_down', crewId: t.crews.plover }))[2]).toBe(
    'the shift of Plover on 2026-10-01 is over',
  );
});

test('a discarded plan says what stays in force; taken back, the crew works and its open plan is gone', async () => {
  const { reported, plan } = await disrupt({ kind: 'crew_sick', crewId: t.crews.heron, note: 'flu' });
  const discarded = await call('POST', `/v1/plans/${plan.id}/discarding`);
  const { id } = reported.disruption;
  expect(discarded.body.staysInForce).toMatchObject({
    code: 'disruption_in_force',
    facts: { disruptionId: id },
    text: `What was reported stays in force on 2026-10-01 (Heron sick: flu): every new plan goes by it. POST /v1/disruptions/${id}/withdrawal takes it back.`,
  });
  const busy = await t.order({ kit: ['camera'] });
  expect((await call('GET', `/v1/work-orders/${busy}/places?days=1`)).body.places).toEqual([]);
  const taken = await call('POST', `/v1/disruptions/${id}/withdrawal`);
  expect(taken.body).toMatchObject({
    disruption: { state: 'withdrawn', withdrawnBy: 'dispatcher' },
    plan: { state: 'discarded' },
    stays: null,
  });
  expect((await call('GET', `/v1/work-orders/${busy}/places?days=1`)).body.places).toHaveLength(1);
  expect((await call('POST', `/v1/disruptions/${id}/withdrawal`)).status).toBe(409);
  const own = await t.plan(week);
  expect((await call('POST', `/v1/plans/${own.id}/discarding`)).body.staysInForce).toBeNull();
});

test('the schema says what rain drops when no tasks are named: each kind by its name', () => {
  const body = t.app.swagger() as Json;
  const { description } = body.paths['/v1/disruptions'].post;
  const rain = JSON.stringify(body.components.schemas.Disruption);
  for (const kind of RAIN_TASKS) {
    expect(description).toContain(kind.replaceAll('_', ' '));
    expect(rain).toContain(kind.replaceAll('_', ' '));
  }
});

test('rain taken back: its open plan goes with it, routes made for it stay and say so', async () => {
  const yard = await t.order({ kit: ['jetter'], east: 1 });
  await t.accept((await t.plan(week)).id);
  const first = await disrupt({ kind: 'rain' });
  const open = await call('POST', `/v1/disruptions/${first.reported.disruption.id}/withdrawal`);
  expect(open.body.plan.state).toBe('discarded');
  const second = await disrupt({ kind: 'rain' });
  await t.accept(second.plan.id);
  const { body } = await call('POST', `/v1/disruptions/${second.reported.disruption.id}/withdrawal`);
  expect(body.stays).toMatchObject({ code: 'routes_stay', facts: { planId: second.plan.id } });
  expect((await t.live(FRIDAY)).map((stop) => stop.workOrderId)).toEqual([yard]);
  const listed = (await call('GET', `/v1/disruptions?day=${THURSDAY}`)).body.items;
  expect(listed.map((each: Json) => each.state)).toEqual(['withdrawn', 'withdrawn']);
});

test('rain makes a plan of many orders stale once, by its name', async () => {
  for (const east of [1, 2, 3, 4]) await t.order({ kit: ['jetter'], east });
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 1 });
  const { reported } = await disrupt({ kind: 'rain', note: 'thunder' });
  const { body } = await call('GET', `/v1/plans/${plan.id}`);
  expect(body.changedSince).toEqual([
    {
      code: 'closed_season_begun',
      facts: { closedSeasonId: reported.disruption.closedSeasonId, orders: 4 },
      text: 'thunder was reported for 2026-10-01: it touches 4 orders of the plan',
    },
  ]);
  await call('POST', `/v1/disruptions/${reported.disruption.id}/withdrawal`);
  expect((await call('GET', `/v1/plans/${plan.id}`)).body.changedSince).toEqual([]);
});

test('a sick crew is reported however many searches wait, and its search goes ahead of them', async () => {
  await t.order();
  const asked = await Promise.all(
    Array.from({ length: 14 }, () => call('POST', '/v1/plans', { fromDay: FRIDAY, workingDays: 1 })),
  );
  // Ten may wait, whoever asks at the same moment.
  expect(asked.map(({ status }) => status).sort()).toEqual([...Array(10).fill(202), ...Array(4).fill(409)]);
  const reported = await call('POST', '/v1/disruptions', { kind: 'crew_sick', crewId: t.crews.plover });
  expect(reported.status).toBe(202);
  const { rows: absences } = await t.pool.query('SELECT crew_id FROM absence');
  expect(absences).toEqual([{ crew_id: t.crews.plover }]);
  await t.work();
  const { rows } = await t.pool.query('SELECT id FROM plan ORDER BY proposed_at, updated_at LIMIT 1');
  expect(rows[0]?.['id']).toBe(reported.body.plan.id);
});
