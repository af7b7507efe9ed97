import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { publishDay } from '../../src/actions/desk/publishing.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { tellNight } from '../../src/actions/night/tellNight.js';
import { plainTools } from '../../src/actions/plans/plainTools.js';
import { tellReminders } from '../../src/actions/telling/visits.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
let orders: string[];
beforeAll(async () => {
  t = await plannedHouse();
  orders = [];
  for (const east of [1, 4, 7]) orders.push(await t.order({ east, north: 7, task: 'inspect' }));
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id);
}, 60_000);

const events = async (query = '') =>
  (await t.call('integration', { method: 'GET', url: `/v1/events?${query}` })).body;
const post = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });
const number = async (id: string | undefined): Promise<number> =>
  Number((await t.house.stores.rows.get('work_order', String(id)))?.['number']);

test('a route a crew is told of, and what changes on it afterwards, are events with what came and went', async () => {
  await t.house.transact({ name: 'office' }, (stores) => publishDay(t.house, stores, 'office', THURSDAY));
  const published: Json[] = (await events('type=route_published')).items;
  expect(published.map((event) => event.facts.visits).reduce((a, b) => a + b, 0)).toBe(3);
  expect(published[0].text).toMatch(/^\w+ was told a route for 2026-10-01 with \d visits?\.$/);
  expect(published[0].crewId).not.toBeNull();
  expect((await events('type=route_changed')).items).toEqual([]);

  const { crewId } = published[0];
  const extra = await t.order({
    east: 5,
    north: 7,
    task: 'inspect',
    row: { lock_day: THURSDAY, lock_crew_id: crewId },
  });
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id);
  const changed: Json[] = (await events(`type=route_changed&crewId=${crewId}`)).items;
  const changes = changed.flatMap((event) => event.facts.changes);
  expect(changes.find(({ kind }) => kind === 'added')).toMatchObject({ number: await number(extra) });
  expect(changed[0].text).toContain(`order ${await number(extra)} is new`);
});

test('on the way is told once a day, with the time of the drive', async () => {
  const [id] = orders;
  const first = await post(`/v1/work-orders/${id}/on-the-way`, { leftAt: '2026-10-01T11:50:00Z' });
  expect(first.status).toBe(200);
  expect(first.body).toMatchObject({ type: 'on_the_way', workOrderId: id, subjectId: id });
  const [stop] = await t.house.stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'live', is: '=', value: true },
  ]);
  const expected = Date.parse('2026-10-01T11:50:00Z') + Number(stop?.['travel_s']) * 1000;
  expect(Date.parse(first.body.facts.expectedAt)).toBe(expected);
  // 11:50 UTC is 6:50 in Chicago.
  expect(first.body.facts.expectedTime).toMatch(/^0[67]:/);
  const again = await post(`/v1/work-orders/${id}/on-the-way`, { leftAt: '2026-10-01T11:55:00Z' });
  expect(again.body.id).toBe(first.body.id);

  const ahead = await post(`/v1/work-orders/${id}/on-the-way`, { leftAt: '2026-10-01T15:00:00Z' });
  expect(ahead).toMatchObject({ status: 422, body: { errors: [{ pointer: '#/leftAt' }] } });
  const backwards = await post(`/v1/work-orders/${id}/on-the-way`, {
    leftAt: '2026-10-01T11:55:00Z',
    expectedAt: '2026-10-01T11:00:00Z',
  });
  expect(backwards).toMatchObject({ status: 422, body: { errors: [{ pointer: '#/expectedAt' }] } });
  expect(
    (await post(`/v1/work-orders/${randomUUID()}/on-the-way`, { leftAt: '2026-10-01T11:55:00Z' })).status,
  ).toBe(404);
  const foreign = await t.call('technician', {
    method: 'POST',
    url: `/v1/work-orders/${id}/on-the-way`,
    payload: { leftAt: '2026-10-01T11:55:00Z' },
  });
  expect(foreign.status).toBe(403);
});

test('who says late is told late; a later time is told anew', async () => {
  const [, id] = orders;
  const late = (expectedAt: string) => post(`/v1/work-orders/${id}/running-late`, { expectedAt });
  const first = await late('2026-10-01T15:00:00Z');
  expect(first.body.text).toBe(`The crew comes late to order ${await number(id)}: expected at 10:00.`);
  expect((await late('2026-10-01T15:00:00Z')).body.id).toBe(first.body.id);
  expect((await late('2026-10-01T16:00:00Z')).body.id).not.toBe(first.body.id);
  expect(await late('2026-10-01T11:00:00Z')).toMatchObject({ status: 422 });
});

test('work that takes too long finds the promised visit behind it late, and ends as an event', async () => {
  const live = await t.live(THURSDAY);
  const crew = live.find(({ crewId }) => live.filter((each) => each.crewId === crewId).length > 1)?.crewId;
  const [first, second] = live.filter(({ crewId }) => crewId === crew).map(({ workOrderId }) => workOrderId);
  if (first === undefined || second === undefined) throw new Error('no crew has two visits');
  await t.promise(second, THURSDAY, '07:30', '09:00');
  // Heard of at once: what is heard of when the crew must be there is told to nobody.
  t.clock.at = new Date('2026-10-01T16:00:00Z');
  await post(`/v1/work-orders/${first}/start`, { startedAt: '2026-10-01T12:40:00Z', cautionsSeen: true });
  // An hour from 7:40: nothing late yet but by the drive, which is short.
  expect(
    (await events(`type=running_late&workOrderId=${second}&atFrom=2000-01-01T00:00:00Z`)).items.filter(
      (event: Json) => event.facts.promisedTo === '09:00',
    ),
  ).toEqual([]);
  const finish = await post(`/v1/work-orders/${first}/finish`, {
    endedAt: '2026-10-01T16:00:00Z',
    result: 'done',
    flowProven: 'yes',
    water: { receiver: 'none' },
  });
  expect(finish.status, finish.text).toBe(200);
  const late = (await events(`type=running_late&workOrderId=${second}`)).items.filter(
    (event: Json) => event.facts.promisedTo === '09:00',
  );
  expect(late).toHaveLength(1);
  expect(Date.parse(late[0].facts.expectedAt)).toBeGreaterThan(Date.parse('2026-10-01T16:00:00Z'));
  const done = (await events(`type=work_finished&workOrderId=${first}`)).items;
  expect(done).toHaveLength(1);
  expect(done[0]).toMatchObject({
    facts: { result: 'done', endedOn: THURSDAY },
    text: expect.stringContaining('ended: done'),
  });
});

test('a line found plugged is told with its cause', async () => {
  const [, , id] = orders;
  const [task] = await t.house.stores.rows.all('work_order_task', [
    { column: 'work_order_id', is: '=', value: id },
  ]);
  const found = await post('/v1/inspections', {
    lineId: task?.['line_id'],
    observedAt: '2026-10-01T13:00:00Z',
    phase: 'no_cleaning',
    plugged: { cause: 'roots' },
  });
  expect(found.status, found.text).toBe(201);
  const [event] = (await events(`type=line_plugged&lineId=${String(task?.['line_id'])}`)).items;
  expect(event.text).toBe('Drain at 7 Marsh Gate was found plugged (roots).');
});

test('a line as likely as not past its limit is told once, and anew when new evidence says so', async () => {
  const { rows } = t.house.stores;
  const fit = randomUUID();
  await rows.insert('fit', {
    id: fit,
    as_of: THURSDAY,
    kind: 'nightly',
    engine_version: 'none',
    parameters: '{}',
    lines: 1,
    readings: 1,
  });
  const [line] = await rows.all('line', []);
  const lineId = String(line?.['id']);
  await rows.insert('trend', {
    ...TREND,
    line_id: lineId,
    fit_id: fit,
    action_chance_30d: 0.7,
    last_evidence_at: '2026-09-01T12:00:00Z',
  });
  const night = () =>
    t.house.transact({ name: 'night' }, (stores) => tellNight(t.house, stores, THURSDAY, randomUUID()));
  const told = async () => (await events(`type=line_past_limit&lineId=${lineId}`)).items;
  await night();
  await night();
  expect(await told()).toMatchObject([{ facts: { occlusion: 0.5, actionLimit: 0.45 } }]);
  expect((await told())[0].text).toContain('50 % blocked, the limit is 45 %');
  await t.pool.query(`UPDATE trend SET last_evidence_at = '2026-09-20T12:00:00Z' WHERE line_id = $1`, [
    lineId,
  ]);
  await night();
  expect(await told()).toHaveLength(2);
  await t.pool.query('DELETE FROM trend');
});

const TREND = {
  as_of: THURSDAY,
  engine_version: 'none',
  evidence_hash: '',
  occlusion: 0.5,
  occlusion_sd: 0.02,
  occlusion_q10: 0.45,
  occlusion_q90: 0.55,
  rate_per_month: 0.05,
  rate_q10: 0.03,
  rate_q90: 0.08,
  action_limit: 0.45,
  plug_limit: 0.9,
  action_chance_due: 0.1,
  plug_chance_due: 0,
  plug_chance_year: 0.02,
  readings_used: 2,
  components: '[]',
};

test('the night reminds of visits promised or planned within the days of the setting, each once', async () => {
  const promised = await t.order({ east: 2, north: 2, task: 'inspect' });
  await t.promise(promised, FRIDAY, '08:00', '10:00');
  const far = await t.order({ east: 2, north: 3, task: 'inspect' });
  await t.promise(far, '2026-10-09', '08:00', '10:00');
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: {} });
  await t.work();
  const reminders = (await events('type=reminder_due&limit=200')).items;
  expect(reminders.find((event: Json) => event.workOrderId === promised)).toMatchObject({
    facts: { day: FRIDAY, from: '08:00', to: '10:00', promised: true },
    text: `Order ${await number(promised)} is promised for 2026-10-02 between 08:00 and 10:00: the client is to be reminded.`,
  });
  expect(reminders.find((event: Json) => event.workOrderId === far)).toBeUndefined();
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { again: true } });
  await t.work();
  expect((await events('type=reminder_due&limit=200')).items.length).toBe(reminders.length);
});

test('a night that fails says so, and says so again when it is asked for again', async () => {
  await t.order({ east: 4, north: 4, task: 'inspect' });
  const night = () =>
    runNight(t.house, {
      businessDay: THURSDAY,
      askedBy: 'test',
      holder: 'test',
      again: true,
      routeSeconds: 1,
      tools: { ...plainTools, travel: () => Promise.reject(new Error('the road is gone')) },
    });
  await expect(night()).rejects.toThrow('the road is gone');
  await expect(night()).rejects.toThrow('the road is gone');
  const failed = (await events('type=night_failed')).items;
  expect(failed).toHaveLength(2);
  expect(failed[0].text).toBe('The nightly run of 2026-10-01 failed: the road is gone.');
});

test('an owner may have promised visits reminded of alone', async () => {
  const planned = await t.order({
    east: 3,
    north: 3,
    task: 'inspect',
    row: { lock_day: FRIDAY, lock_crew_id: t.crews.heron },
  });
  await t.accept((await t.plan({ fromDay: FRIDAY, workingDays: 1 })).id);
  const remind = () => t.house.transact({ name: 'test' }, (stores) => tellReminders(stores, FRIDAY, FRIDAY));
  const { headers } = await t.call('owner', { method: 'GET', url: '/v1/settings' });
  await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    payload: { telling: { remindPlanned: false } },
    headers: { 'if-match': String(headers['etag']) },
  });
  await remind();
  const of = async () => (await events(`type=reminder_due&workOrderId=${planned}`)).items;
  expect(await of()).toEqual([]);
  const again = await t.call('owner', { method: 'GET', url: '/v1/settings' });
  await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    payload: { telling: null },
    headers: { 'if-match': String(again.headers['etag']) },
  });
  await remind();
  expect(await of()).toMatchObject([{ facts: { promised: false, day: FRIDAY } }]);
});

test('lists are paged and filtered, and refuse what is not asked for', async () => {
  const first = await events('limit=2');
  expect(first.items).toHaveLength(2);
  const second = await events(`limit=2&cursor=${first.next}`);
  expect(second.items.map((event: Json) => event.id)).not.toContain(first.items[0].id);
  const one = await t.call('owner', { method: 'GET', url: `/v1/events/${first.items[0].id}` });
  expect(one.body).toEqual(first.items[0]);
  expect((await t.call('owner', { method: 'GET', url: `/v1/events/${randomUUID()}` })).status).toBe(404);
  expect((await t.call('technician', { method: 'GET', url: '/v1/events' })).status).toBe(403);
  expect((await t.call('owner', { method: 'GET', url: '/v1/events?type=gossip' })).status).toBe(400);
  expect((await events(`q=plugged%20roots`)).items).toHaveLength(1);
});

test('what fails leaves no event', async () => {
  const before = (await events('limit=200')).items.length;
  await expect(
    t.house.transact({ name: 'test' }, async (stores) => {
      const { tell } = await import('../../src/actions/telling/tell.js');
      await tell(stores, {
        type: 'webhook_test',
        subjectId: randomUUID(),
        once: 'x',
        facts: { askedBy: 'x' },
      });
      throw new Error('no');
    }),
  ).rejects.toThrow('no');
  expect((await events('limit=200')).items.length).toBe(before);
});
