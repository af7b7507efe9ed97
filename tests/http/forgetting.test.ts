import { randomUUID } from 'node:crypto';
import { expect, test } from 'vitest';
import { forgetOld } from '../../src/actions/night/forgetOld.js';
import { DEFAULT_SETTINGS } from '../../src/domain/work/settings.js';
import { plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import { syncedHouse } from '../setup/syncedHouse.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const DAY_MS = 86_400_000;

/** What the night forgets so many days after a moment, by the usual settings. */
function forget(t: TestHouse, after: string, days: number): Promise<Record<string, number>> {
  t.clock.at = new Date(Date.parse(after) + days * DAY_MS);
  return t.house.transact({ name: 'night' }, (stores) =>
    forgetOld(stores, DEFAULT_SETTINGS, t.house.clock.now()),
  );
}
/** Rows stamp each change with the time: set with their triggers asleep. */
async function stamp(t: TestHouse, table: string, column: string, at: string): Promise<void> {
  await t.pool.query(`ALTER TABLE ${table} DISABLE TRIGGER USER`);
  await t.pool.query(`UPDATE ${table} SET ${column} = '${at}'`);
  await t.pool.query(`ALTER TABLE ${table} ENABLE TRIGGER USER`);
}
const ids = async (t: TestHouse, table: string, where = 'true'): Promise<string[]> =>
  (await t.pool.query(`SELECT id FROM ${table} WHERE ${where} ORDER BY id`)).rows.map(({ id }) => id);

test('plans nobody took go with their routes after 30 days; replaced routes after 400, unless something was tried on them', async () => {
  const t = await plannedHouse();
  const { rows } = t.house.stores;
  const order = await t.order({ east: 1 });
  const today = { fromDay: THURSDAY, workingDays: 1 };
  const asked = [await t.plan(today), await t.plan(today), await t.plan(today)];
  const accept = async (id: string) => expect((await t.accept(id)).status).toBe(200);
  await accept(asked[0].id);
  const [stop] = await rows.all('stop', [{ column: 'live', is: '=', value: true }]);
  for (const _ of [1, 2]) await accept((await t.plan(today)).id);
  const discarded = await t.plan(today);
  await t.call('dispatcher', { method: 'POST', url: `/v1/plans/${discarded.id}/discarding` });
  const sick = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/disruptions',
    payload: { kind: 'crew_sick', crewId: t.crews.curlew, day: THURSDAY },
  });
  expect(sick.status, sick.text).toBe(202);
  await t.work();
  // Tried before the day was planned anew.
  await rows.insert('attempt', {
    id: randomUUID(),
    work_order_id: order,
    stop_id: stop?.['id'],
    crew_id: t.crews.heron,
    author: 'Tern',
    started_at: `${THURSDAY}T14:00:00Z`,
    ended_at: `${THURSDAY}T14:30:00Z`,
    result: 'not_done',
    reason: 'gate',
  });
  await stamp(t, 'plan', 'updated_at', `${THURSDAY}T12:00:00Z`);
  const replaced = await ids(t, 'route', `state = 'replaced'`);
  const live = await ids(t, 'route', `state = 'live'`);
  const tried = String(stop?.['route_id']);
  expect(replaced).toContain(tried);
  expect(replaced.length).toBeGreaterThan(1);
  const untaken = await ids(t, 'plan', `state <> 'accepted' AND id NOT IN (SELECT plan_id FROM disruption)`);
  expect(untaken).toEqual([asked[1].id, asked[2].id, discarded.id].sort());

  const at = `${THURSDAY}T12:00:00Z`;
  expect(await forget(t, at, 29)).toMatchObject({ plansForgotten: 0, routesForgotten: 0 });
  expect(await forget(t, at, 31)).toMatchObject({ plansForgotten: 3, routesForgotten: 0 });
  // A report of something that upset the day keeps its plan.
  expect(await ids(t, 'plan', `state <> 'accepted'`)).toHaveLength(1);
  expect(await ids(t, 'route', `plan_id IN ('${untaken.join(`','`)}')`)).toEqual([]);
  expect(await forget(t, at, 401)).toMatchObject({
    plansForgotten: 0,
    routesForgotten: replaced.length - 1,
  });
  expect(await ids(t, 'route', `state = 'replaced'`)).toEqual([tried]);
  expect(await ids(t, 'route', `state = 'live'`)).toEqual(live);
  // Of the three that were driven: the one whose stop was tried, and the one that stands.
  expect(await ids(t, 'plan', `state = 'accepted'`)).toHaveLength(2);
  expect(await forget(t, at, 500)).toMatchObject({ routesForgotten: 0 });
}, 120_000);

test('what an app said is forgotten 400 days after it was settled, that it came is not: sent again it is known', async () => {
  const t = await syncedHouse();
  const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();
  const begun = { kind: 'start', id: randomUUID(), at: at(0), workOrderId: t.orderId };
  const waits = {
    kind: 'clean',
    id: randomUUID(),
    at: at(20),
    lineId: randomUUID(),
    task: 'jet',
    flowProven: 'yes',
  };
  const sent = await t.sync([begun, waits]);
  expect(sent.map(({ outcome }) => outcome)).toEqual(['accepted', 'waiting']);
  const said = async () =>
    (await t.pool.query(`SELECT id FROM sync_item WHERE content <> '{}' AND work <> '{}'`)).rows.map(
      ({ id }) => id,
    );
  const now = t.house.clock.now().toISOString();
  const again = t.clock.at;
  // An order that is still open may yet ask.
  expect(await forget(t, now, 401)).toMatchObject({ syncItemsForgotten: 0 });
  t.clock.at = again;
  const finish = {
    kind: 'finish',
    id: randomUUID(),
    at: at(50),
    workOrderId: t.orderId,
    after: [begun.id],
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'own_ground', place: 'lawn' },
  };
  const ended = await t.sync([finish]);
  expect(ended, JSON.stringify(ended)).toMatchObject([{ outcome: 'accepted' }]);
  expect(await forget(t, now, 399)).toMatchObject({ syncItemsForgotten: 0 });
  expect(await forget(t, now, 401)).toMatchObject({ syncItemsForgotten: 2 });
  expect(await said()).toEqual([waits.id]);
  expect(await forget(t, now, 402)).toMatchObject({ syncItemsForgotten: 0 });
  t.clock.at = again;
  expect(await t.sync([begun])).toMatchObject([{ id: begun.id, outcome: 'same' }]);
  expect(await ids(t, 'attempt')).toHaveLength(1);
}, 120_000);

test('answered questions go after 400 days, open ones never', async () => {
  const t = await testHouse('2026-10-01T12:00:00Z');
  const ask = (state: string, finishedAt: string | null) =>
    t.pool.query(
      `INSERT INTO what_if (id, asked, seed, runs, weeks, asked_by, state, finished_at) VALUES (gen_random_uuid(), '{}', 1, 1, 1, $1, $1, $2)`,
      [state, finishedAt],
    );
  const at = '2026-10-01T12:00:00Z';
  for (const [state, finished] of [
    ['done', at],
    ['failed', at],
    ['waiting', null],
    ['running', null],
  ] as const)
    await ask(state, finished);
  expect(await forget(t, at, 399)).toMatchObject({ whatIfsForgotten: 0 });
  expect(await forget(t, at, 401)).toMatchObject({ whatIfsForgotten: 2 });
  expect(await ids(t, 'what_if', `state IN ('waiting', 'running')`)).toHaveLength(2);
}, 60_000);

test('a job that failed for good leaves the queue once its work is done; one that is undone stays', async () => {
  const t = await testHouse('2026-10-01T12:00:00Z');
  const { jobs } = t.house.stores;
  const keys = async () =>
    (await t.pool.query('SELECT key FROM graphile_worker.jobs ORDER BY key')).rows.map(({ key }) => key);
  await t.pool.query(
    `INSERT INTO nightly_run (id, business_day, asked_by, state) VALUES (gen_random_uuid(), '2026-09-30', 'test', 'done'), (gen_random_uuid(), '2026-10-01', 'test', 'failed')`,
  );
  for (const day of ['2026-09-30', '2026-10-01']) await jobs.add('night', {}, `night:${day}`);
  await jobs.add('post', {}, 'post:overdue'); // every event is handed on
  await jobs.add('webhook', {}, 'webhook:gone'); // whose delivery nobody knows: somebody looks at it
  await jobs.add('plan', {}, 'superseded');
  await jobs.add('owner_mail', {}, `owner_mail:${randomUUID()}:${randomUUID()}`); // of an event long gone
  await t.pool.query(`UPDATE graphile_worker._private_jobs SET attempts = max_attempts`);
  await t.pool.query(`UPDATE graphile_worker._private_jobs SET key = NULL WHERE key = 'superseded'`);
  await jobs.add('plan', {}, 'plan:alive');
  expect(await forget(t, '2026-10-01T12:00:00Z', 0)).toMatchObject({ jobsForgotten: 4 });
  expect(await keys()).toEqual(['night:2026-10-01', 'plan:alive', 'webhook:gone']);
}, 60_000);
