import { beforeAll, expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { bookLine, bookSite, readingsBeforeCleans } from '../setup/bookRows.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const DAY = '2026-10-01';

/** Thirty houses with a footing drain and a discharge, seen and cleaned every 80 days at rates that differ. */
function book(): ClientBase {
  const houses = Array.from({ length: 30 }, (_, i) => i);
  const kinds = ['footing_drain', 'sump_discharge'] as const;
  const sites = houses.map((i) => bookSite(i, { latitude: 44.6 + (i % 6) / 50, longitude: -90.3 + i / 200 }));
  const lines = houses.flatMap((i) =>
    kinds.map((kind) => bookLine({ lineId: `${kind}-${i}`, siteId: `S${i}`, kind })),
  );
  const readings = lines.flatMap(({ lineId }, n) =>
    readingsBeforeCleans(lineId, '2026-07-02T14:00:00Z', {
      occlusion: Math.min(0.9, 0.1 + (Math.floor(n / 2) % 10) / 12),
    }),
  );
  const crews: ClientBase['crews'] = [
    {
      crewId: 'C1',
      name: 'Heron',
      depot: 'North yard',
      depotLatitude: 44.65,
      depotLongitude: -90.25,
      kit: ['hose', 'jetter', 'camera'],
      shiftStart: '07:30',
      shiftEnd: '16:00',
      weekdays: ['mon', 'tue', 'wed', 'thu', 'fri'],
      breakAfter: null,
      breakMinutes: 0,
      people: 2,
    },
  ];
  return { sites, lines, readings, crews };
}

beforeAll(async () => {
  t = await testHouse('2026-10-01T07:00:00Z'); // 02:00 in the business's zone, a Thursday
  await importClientBase(t.house, { name: 'test' }, { base: book(), source: 'book', asOf: DAY });
});

const get = (url: string, role: 'owner' | 'dispatcher' | 'technician' = 'owner') =>
  t.call(role, { method: 'GET', url });

async function snapshot() {
  const { rows } = await t.pool.query(
    `SELECT (SELECT jsonb_agg(jsonb_build_array(line_id, due_on, round(occlusion::numeric, 9)) ORDER BY line_id) FROM trend) AS trends,
            (SELECT jsonb_agg(jsonb_build_array(id, state, wanted_by) ORDER BY number) FROM work_order) AS orders,
            (SELECT jsonb_agg(jsonb_build_array(s.work_order_id, s.starts_at) ORDER BY s.id) FROM stop s WHERE live) AS stops`,
  );
  return JSON.stringify(rows[0]);
}

test('a night turns readings into trends, due dates, orders and routes', async () => {
  const started = await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY },
  });
  expect(started.status, started.text).toBe(202);
  expect(started.body).toMatchObject({ state: 'waiting', businessDay: DAY });
  await t.work();
  const run = await get(`/v1/nightly-runs/${started.body.id}`);
  expect(run.body, JSON.stringify(run.body)).toMatchObject({ state: 'done' });
  expect(run.body.steps.map((step: { name: string; state: string }) => [step.name, step.state])).toEqual(
    ['estimate', 'date', 'order', 'route', 'tell'].map((name) => [name, 'done']),
  );

  const trends = await get('/v1/trends?sort=dueOn&limit=200');
  expect(trends.body.items).toHaveLength(60);
  expect(trends.body.items[0].dueReasons[0].text.length).toBeGreaterThan(20);
  const fast = await get('/v1/trends?sort=-ratePerMonth&limit=1&kind=footing_drain');
  expect(fast.body.items[0].kind).toBe('footing_drain');
  const routes = await get(`/v1/routes?day=${DAY}`, 'dispatcher');
  expect(routes.body.items[0].stops.length).toBeGreaterThan(1);
});

test('a footing drain and the discharge of its pit are one visit, tasks in the order of the trade', async () => {
  const routes = await get(`/v1/routes?day=${DAY}`, 'dispatcher');
  const visit = routes.body.items[0].stops.find((stop: { workOrder: object | null }) => stop.workOrder);
  const kinds = visit.workOrder.tasks.map((task: { kind: string }) => task.kind);
  expect(kinds[0]).toBe('inspect');
  expect(kinds.at(-1)).toBe('test_pump');
  const { rows } = await t.pool.query(
    `SELECT site_id, count(*)::int AS n FROM work_order WHERE state IN ('wanted', 'placed') GROUP BY site_id HAVING count(*) > 1`,
  );
  expect(rows).toEqual([]);
});

test('running the day twice changes nothing the second time', async () => {
  const before = await snapshot();
  const again = await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  expect(again.status, again.text).toBe(202);
  await t.work();
  expect((await get(`/v1/nightly-runs/${again.body.id}`)).body).toMatchObject({ state: 'done', times: 2 });
  expect(await snapshot()).toBe(before);
});

test('a night asked for again under the same key is worked once', async () => {
  const ask = () =>
    t.call('owner', {
      method: 'POST',
      url: '/v1/nightly-runs',
      payload: { businessDay: DAY, again: true },
      headers: { 'idempotency-key': 'a night once more' },
    });
  const first = await ask();
  expect(first.body).toMatchObject({ state: 'waiting', times: 3 });
  expect(first.body.steps.map(({ state }: { state: string }) => state)).toContain('waiting');
  await t.work();
  const second = await ask();
  expect(second).toMatchObject({ status: 202, body: first.body });
  await t.work();
  expect((await get(`/v1/nightly-runs/${first.body.id}`)).body).toMatchObject({ state: 'done', times: 3 });
});

test('a run left by a killed process is taken over after its lease and ends the same', async () => {
  const before = await snapshot();
  const [run] = await t.house.stores.rows.all('nightly_run', []);
  // as a kill between `date` and `order` leaves it
  await t.pool.query(
    `UPDATE nightly_run SET state = 'running', holder = 'gone', lease_until = now() + interval '1 hour' WHERE id = $1`,
    [run?.['id']],
  );
  await t.pool.query(`UPDATE nightly_step SET state = 'waiting' WHERE run_id = $1 AND position > 2`, [
    run?.['id'],
  ]);
  const busy = await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY },
  });
  expect(busy.status).toBe(409);
  await t.pool.query(`UPDATE nightly_run SET lease_until = now() - interval '1 second'`);
  const taken = await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY },
  });
  expect(taken.status, taken.text).toBe(202);
  await t.work();
  expect((await get(`/v1/nightly-runs/${taken.body.id}`)).body.state).toBe('done');
  expect(await snapshot()).toBe(before);
});

test('one line shows its readings, curve and band, also as a picture', async () => {
  const { body } = await get('/v1/trends?limit=1');
  const lineId = body.items[0].lineId;
  const trend = await get(`/v1/lines/${lineId}/trend`);
  expect(trend.body.picture.readings).toHaveLength(4);
  expect(trend.body.picture.past.length).toBeGreaterThan(1);
  const svg = await get(`/v1/lines/${lineId}/trend.svg`);
  expect(svg.headers['content-type']).toContain('image/svg+xml');
  expect(svg.text).toContain('<svg');
  expect(svg.text).not.toContain('NaN');
});

test('a technician sees the own crew only, starts, and is done with three things', async () => {
  const [crew] = await t.house.stores.rows.all('crew', []);
  const member = (await t.call('owner', { method: 'POST', url: '/v1/members', payload: { name: 'Tern' } }))
    .body;
  await t.call('owner', {
    method: 'POST',
    url: '/v1/crew-memberships',
    payload: { crewId: crew?.['id'], memberId: member.id, fromDay: '2026-01-01' },
  });
  expect((await get(`/v1/routes?day=${DAY}`, 'technician')).body.items).toEqual([]);
  const key = (
    await t.call('owner', {
      method: 'POST',
      url: '/v1/keys',
      payload: { name: 'Tern', roles: ['technician'], memberId: member.id },
    })
  ).body.key;
  const own = { authorization: `Bearer ${key}` };
  const routes = await t.call(null, { method: 'GET', url: `/v1/routes?day=${DAY}`, headers: own });
  const order = routes.body.items[0].stops.find(
    (stop: { workOrder: object | null }) => stop.workOrder,
  ).workOrder;
  // everything needed on site: what the line is, what was found last, the cautions of its tasks
  expect(order.tasks[0].line).toMatchObject({
    material: 'pvc',
    bore: { value: 100, unit: 'mm' },
    lastReading: { method: 'camera' },
  });
  expect(order.cautions.map((each: { code: string }) => each.code)).toEqual(
    expect.arrayContaining(['electricity', 'local_codes']),
  );
  const one = `/v1/routes/${routes.body.items[0].id}`;
  expect((await t.call(null, { method: 'GET', url: one, headers: own })).body).toEqual(routes.body.items[0]);
  expect((await get(one, 'technician')).status).toBe(404);
  const at = (minutes: number) =>
    new Date(Date.parse('2026-10-01T13:00:00Z') + minutes * 60_000).toISOString();
  t.clock.at = new Date('2026-10-01T20:00:00Z');
  const start = await t.call(null, {
    method: 'POST',
    url: `/v1/work-orders/${order.id}/start`,
    headers: own,
    payload: { startedAt: at(0), cautionsSeen: true },
  });
  expect(start.body.state).toBe('under_way');
  const bare = await t.call(null, {
    method: 'POST',
    url: `/v1/work-orders/${order.id}/finish`,
    headers: own,
    payload: { endedAt: at(90), result: 'done' },
  });
  expect(bare.status).toBe(422);
  expect(bare.body.errors.map((fault: { pointer: string }) => fault.pointer).sort()).toEqual([
    '#/flowProven',
    '#/pumpRestored',
    '#/water',
  ]);
  const done = await t.call(null, {
    method: 'POST',
    url: `/v1/work-orders/${order.id}/finish`,
    headers: own,
    payload: {
      endedAt: at(90),
      result: 'done',
      flowProven: 'yes',
      water: { receiver: 'caught', sludgeTo: 'depot' },
      pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
    },
  });
  expect(done.body.state).toBe('done');
  const found = await t.call(null, {
    method: 'POST',
    url: '/v1/inspections',
    headers: own,
    payload: {
      lineId: order.tasks[0].lineId,
      observedAt: at(-360),
      phase: 'before_cleaning',
      reading: { method: 'camera', share: 0.3 },
    },
  });
  expect(found.status, found.text).toBe(201);
});

test('work done today is not ordered again when the night of the day is run once more', async () => {
  const [done] = (await get('/v1/work-orders?state=done')).body.items;
  const of = async () => (await get(`/v1/work-orders?siteId=${done.siteId}`)).body.items.length;
  const before = await of();
  await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  await t.work();
  expect(await of()).toBe(before);
});

test('the owner sees the base at a glance', async () => {
  expect((await get('/v1/summary')).body).toMatchObject({
    lines: 60,
    linesDated: 60,
    workOrders: { under_way: 0 },
  });
});

test('a clean after which the water did not run leaves the line as it was', async () => {
  const [shut, open] = (await get('/v1/trends?sort=-occlusion&kind=footing_drain&limit=2')).body.items;
  for (const [line, flowProven] of [
    [shut, 'no'],
    [open, 'yes'],
  ]) {
    const cleaned = await t.call('owner', {
      method: 'POST',
      url: '/v1/cleans',
      payload: { lineId: line.lineId, cleanedAt: '2026-09-30T20:00:00Z', flowProven },
    });
    expect(cleaned.status, cleaned.text).toBe(201);
  }
  const again = await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  expect(again.status, again.text).toBe(202);
  await t.work();
  const { items } = (await get('/v1/trends?kind=footing_drain&limit=200')).body;
  const now = ({ lineId }: { lineId: string }) =>
    items.find((trend: { lineId: string }) => trend.lineId === lineId).occlusion;
  expect(now(shut)).toEqual(shut.occlusion);
  const told = items.find(({ lineId }: { lineId: string }) => lineId === shut.lineId);
  expect(told.dueReasons.map(({ text }: { text: string }) => text).join(' ')).toContain(
    'Cleaned on 2026-09-30, water was not seen to run: it counts as no clean',
  );
  expect(told.dueOn <= '2026-10-30' && told.dueOn <= shut.dueOn, told.dueOn).toBe(true);
  expect(now(open).mean).toBeLessThan(0.5 * open.occlusion.mean);
});

test('a dig told of is no clean: what lies in the line stays, its date comes no later, and a reason says so', async () => {
  const [dug] = (await get('/v1/trends?sort=-occlusion&kind=sump_discharge&limit=1')).body.items;
  const told = await t.call('owner', {
    method: 'POST',
    url: '/v1/regime-changes',
    payload: { lineId: dug.lineId, changedOn: '2026-09-29', cause: 'excavation' },
  });
  expect(told.status, told.text).toBe(201);
  await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  await t.work();
  const { items } = (await get('/v1/trends?kind=sump_discharge&limit=200')).body;
  const now = items.find((trend: { lineId: string }) => trend.lineId === dug.lineId);
  expect(now.occlusion.mean).toBeGreaterThan(0.8 * dug.occlusion.mean);
  expect(now.dueOn <= dug.dueOn, `${now.dueOn} after ${dug.dueOn}`).toBe(true);
  expect(now.dueReasons).toContainEqual({
    code: 'told_change',
    facts: { cause: 'excavation', on: '2026-09-29' },
    text: 'Excavation told on 2026-09-29: how fast it fouls is taken as half forgotten; what lies in the line stays.',
  });
});

test('what is found today stands beside the date, which knows nothing of it until the next night', async () => {
  const [line] = (await get('/v1/trends?sort=occlusion&limit=1')).body.items;
  expect(line.notYetDated).toEqual([]);
  const found = await t.call('owner', {
    method: 'POST',
    url: '/v1/inspections',
    payload: {
      lineId: line.lineId,
      observedAt: '2026-10-01T15:00:00Z',
      phase: 'no_cleaning',
      plugged: { cause: 'deposit' },
    },
  });
  expect(found.status, found.text).toBe(201);
  const { trend } = (await get(`/v1/lines/${line.lineId}/trend`)).body;
  expect(trend.notYetDated).toEqual([
    {
      kind: 'plugged',
      at: '2026-10-01T15:00:00.000Z',
      text: 'found plugged on 2026-10-01, not yet dated',
    },
  ]);
  expect(trend.dueOn).toBe(line.dueOn);
});

test('a line found plugged and not opened is shown as plugged everywhere; the history keeps what was forecast', async () => {
  const { rows: low } = await t.pool.query(
    `SELECT t.line_id AS "lineId" FROM trend t
      WHERE t.occlusion < 0.3 AND NOT EXISTS (SELECT FROM clean c WHERE c.line_id = t.line_id AND c.cleaned_at > '2026-09-15') ORDER BY 1 LIMIT 1`,
  );
  const [line] = low;
  const before = (await get('/v1/summary')).body.pastActionLimit;
  const found = await t.call('owner', {
    method: 'POST',
    url: '/v1/inspections',
    payload: {
      lineId: line.lineId,
      observedAt: '2026-09-30T15:00:00Z',
      phase: 'no_cleaning',
      plugged: { cause: 'deposit' },
    },
  });
  expect(found.status, found.text).toBe(201);
  await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  await t.work();
  const { trend, pace, picture } = (await get(`/v1/lines/${line.lineId}/trend`)).body;
  expect(trend.occlusion).toEqual({ mean: 1, sd: 0, q10: 1, q90: 1 });
  expect(trend.chances).toEqual({ actionWithin30Days: 1, actionByDue: 1, plugByDue: 1, plugWithinYear: 1 });
  expect([trend.dueOn, trend.plugOn.q50]).toEqual(['2026-09-30', '2026-09-30']);
  expect(trend.dueReasons.map(({ code }: { code: string }) => code)).not.toContain('action_chance');
  expect(pace.text).toContain('Found plugged on');
  expect(picture.future.every(({ q50 }: { q50: number }) => q50 === 1)).toBe(true);
  const [fullest] = (await get('/v1/trends?sort=-occlusion&limit=1')).body.items;
  expect(fullest.occlusion.mean).toBe(1);
  expect((await get('/v1/summary')).body.pastActionLimit).toBeGreaterThan(before);
  const past = (await get('/v1/lines.geojson?pastLimit=true&limit=200')).body.features;
  expect(past.map(({ id }: { id: string }) => id)).toContain(line.lineId);
  const risk = (await get('/v1/reports/lines-at-risk')).body.items;
  expect(risk.find(({ lineId }: { lineId: string }) => lineId === line.lineId)).toMatchObject({
    plugChance: 1,
  });
  const { rows } = await t.pool.query(
    'SELECT occlusion, occlusion_sd, action_chances FROM trend_history WHERE line_id = $1 ORDER BY as_of DESC LIMIT 1',
    [line.lineId],
  );
  expect(rows[0].occlusion).toBeLessThan(1);
  expect(rows[0].occlusion_sd).toBeGreaterThan(0);
  expect(rows[0].action_chances[0]).toBeLessThan(1);
});

test('the review list begins with what holds a due date, and says which; then the fullest', async () => {
  const { rows } = await t.pool.query(
    `SELECT DISTINCT ON (i.line_id) i.id, i.line_id, t.due_on::text AS due_on FROM inspection i JOIN trend t ON t.line_id = i.line_id
      WHERE i.withdrawn_at IS NULL AND i.replaced_at IS NULL AND i.occlusion IS NOT NULL AND t.due_on IS NOT NULL ORDER BY i.line_id LIMIT 3`,
  );
  const [holds, low, high] = rows;
  for (const { id, line_id } of rows)
    await t.pool.query(
      `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion) VALUES ($1, $2, 0.1, 'does not fit')
       ON CONFLICT (inspection_id) DO UPDATE SET verdict = 'open'`,
      [id, line_id],
    );
  const occlude = (id: string, share: number) =>
    t.pool.query('UPDATE inspection SET occlusion = $2 WHERE id = $1', [id, share]);
  await occlude(holds.id, 0.4);
  await occlude(low.id, 0.5);
  await occlude(high.id, 0.8);
  const named = {
    code: 'doubted_reading',
    facts: { inspectionId: holds.id, holdsDate: true },
    text: 'in doubt',
  };
  await t.pool.query('UPDATE trend SET due_reasons = due_reasons || $2::jsonb WHERE line_id = $1', [
    holds.line_id,
    JSON.stringify([named]),
  ]);
  const { items } = (await get('/v1/reading-reviews?verdict=open&limit=200')).body;
  const ours = items.filter(({ inspectionId }: { inspectionId: string }) =>
    rows.some(({ id }) => id === inspectionId),
  );
  expect(
    ours.map((each: { inspectionId: string; holdsDueOn: string | null }) => [
      each.inspectionId,
      each.holdsDueOn,
    ]),
  ).toEqual([
    [holds.id, holds.due_on],
    [high.id, null],
    [low.id, null],
  ]);
});
