import { randomUUID } from 'node:crypto';
import { beforeAll, describe, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let site: Json;
let system: Json;
let discharge: Json;
let footing: Json;
let pit: Json;

const post = (url: string, payload: object, role: 'owner' | 'dispatcher' | 'technician' = 'dispatcher') =>
  t.call(role, { method: 'POST', url, payload });
const get = (url: string, role: 'owner' | 'dispatcher' | 'technician' = 'dispatcher') =>
  t.call(role, { method: 'GET', url });
const made = async (url: string, payload: object): Promise<Json> => {
  const answer = await post(url, payload);
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};

beforeAll(async () => {
  t = await testHouse();
  site = await made('/v1/sites', { address: '1 Marsh Gate', town: 'Brindle' });
  system = await made('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  pit = await made('/v1/pits', { siteId: site.id, systemId: system.id });
  discharge = await made('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    length: { value: 12, unit: 'm' },
  });
  footing = await made('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Footing drain',
    kind: 'footing_drain',
    drainsTo: 'pit',
    drainsToPitId: pit.id,
  });
});

describe('work asked for by hand', () => {
  test('gets minutes, kit and people from its tasks', async () => {
    const order = await made('/v1/work-orders', {
      siteId: site.id,
      because: 'the client heard the pump run dry',
      tasks: [
        { kind: 'jet', lineId: discharge.id },
        { kind: 'test_pump', pitId: pit.id },
      ],
      wantedBy: '2026-10-05',
    });
    expect(order).toMatchObject({
      state: 'wanted',
      cause: 'asked',
      kit: ['jetter'],
      people: 2,
      waitsFor: [
        {
          kind: 'discharge_plan',
          state: 'met',
          facts: { assumed: true, because: 'outlet unknown: Discharge' },
        },
      ],
    });
    expect(order.tasks.map((task: Json) => task.kind)).toEqual(['jet', 'test_pump']);
    expect(order.minutes).toBe(20 + order.tasks[0].minutes + order.tasks[1].minutes);
    expect(order.becauseOf[0].text).toBe('the client heard the pump run dry');
  });

  test('is refused when the line is already in an open order with that task', async () => {
    const again = await post('/v1/work-orders', {
      siteId: site.id,
      because: 'again',
      tasks: [{ kind: 'jet', lineId: discharge.id }],
    });
    expect(again.status).toBe(409);
    expect(again.body.facts.constraint).toBe('task_one_open_per_line');
  });

  test('waits for its locate ticket, quote, discharge plan and parts when it digs', async () => {
    const dig = await made('/v1/work-orders', {
      siteId: site.id,
      because: 'crushed under the drive',
      tasks: [{ kind: 'dig_and_replace', lineId: footing.id }],
    });
    expect(dig.waitsFor.map((each: Json) => [each.kind, each.state])).toEqual([
      ['locate_ticket', 'open'],
      ['quote_accepted', 'open'],
      ['discharge_plan', 'open'],
      ['parts', 'open'],
    ]);
    const start = await post(`/v1/work-orders/${dig.id}/start`, { startedAt: '2026-10-01T11:00:00Z' });
    expect(start.status).toBe(422);
    expect(start.body.facts.rule).toBe('preconditions');
  });

  test('people and kit may add to what the tasks need, never take away', async () => {
    const made2 = await made('/v1/work-orders', {
      siteId: site.id,
      because: 'to be sure',
      tasks: [{ kind: 'jet', lineId: footing.id }],
      people: 1,
      kit: ['camera'],
    });
    expect(made2).toMatchObject({ people: 2, kit: ['camera', 'jetter'] });
  });

  test('is not wanted in the past, and follows no order of another house or itself', async () => {
    const ask = (more: object) =>
      post('/v1/work-orders', {
        siteId: site.id,
        because: 'x',
        tasks: [{ kind: 'clear_pit', pitId: pit.id }],
        ...more,
      });
    const past = await ask({ wantedBy: '2025-01-01', respondBy: '2026-09-01T10:00:00Z' });
    expect(past.body.errors.map((fault: Json) => fault.pointer)).toEqual(['#/wantedBy', '#/respondBy']);
    const id = randomUUID();
    expect((await ask({ id, followsId: id })).body.errors[0]).toMatchObject({
      pointer: '#/followsId',
      detail: 'is the order itself',
    });
  });

  test('is not begun in the future', async () => {
    const order = (await get(`/v1/work-orders?siteId=${site.id}`)).body.items[0];
    const early = await post(`/v1/work-orders/${order.id}/start`, { startedAt: '2026-10-02T10:00:00Z' });
    expect([early.status, early.body.errors?.[0].pointer]).toEqual([422, '#/startedAt']);
  });

  test('names each task on the wrong thing or of another site', async () => {
    const elsewhere = await made('/v1/sites', { address: '2 Marsh Gate', town: 'Brindle' });
    const bad = await post('/v1/work-orders', {
      siteId: elsewhere.id,
      because: 'x',
      tasks: [{ kind: 'jet', lineId: footing.id }, { kind: 'test_pump' }],
      notBefore: '2026-10-09',
      wantedBy: '2026-10-05',
    });
    expect(bad.status).toBe(422);
    expect(bad.body.errors.map((fault: Json) => fault.pointer)).toEqual([
      '#/wantedBy',
      '#/tasks/0/lineId',
      '#/tasks/1',
    ]);
    const wrongThing = await post('/v1/work-orders', {
      siteId: site.id,
      because: 'x',
      tasks: [{ kind: 'test_pump', lineId: footing.id }],
    });
    expect(wrongThing.body.errors[0]).toMatchObject({
      pointer: '#/tasks/0/kind',
      remedy: 'give pitId instead of lineId',
    });
    expect((await get(`/v1/work-orders?siteId=${elsewhere.id}`)).body.items).toEqual([]);
  });

  test('is changed with its version and withdrawn, which frees the line', async () => {
    const order = await made('/v1/work-orders', {
      siteId: site.id,
      because: 'asked',
      tasks: [{ kind: 'inspect', lineId: footing.id }],
    });
    const url = `/v1/work-orders/${order.id}`;
    const patch = (payload: object, version: number) =>
      t.call('dispatcher', { method: 'PATCH', url, payload, headers: { 'if-match': `"${version}"` } });
    expect((await patch({ wantedBy: '2026-10-20' }, 9)).status).toBe(412);
    expect((await patch({ wantedBy: '2026-10-20', note: 'ring first' }, order.version)).body).toMatchObject({
      wantedBy: '2026-10-20',
      note: 'ring first',
    });
    const gone = await post(`${url}/withdrawal`, { because: 'sold the house' });
    expect(gone.body).toMatchObject({ state: 'withdrawn', withdrawnBecause: 'sold the house' });
    expect((await post(`${url}/withdrawal`, { because: 'twice' })).status).toBe(409);
    await made('/v1/work-orders', {
      siteId: site.id,
      because: 'asked',
      tasks: [{ kind: 'inspect', lineId: footing.id }],
    });
  });

  test('shows the promise given for it', async () => {
    const order = (await get(`/v1/work-orders?siteId=${site.id}`)).body.items[0];
    await made('/v1/promises', {
      workOrderId: order.id,
      day: '2026-10-06',
      fromTime: '08:00',
      toTime: '10:00',
      toldTo: 'the neighbour with the key',
    });
    expect((await get(`/v1/work-orders/${order.id}`)).body.promises).toMatchObject([
      { day: '2026-10-06', fromTime: '08:00', toldTo: 'the neighbour with the key' },
    ]);
    expect((await get(`/v1/work-orders/${order.id}`, 'technician')).status).toBe(404);
  });
});

describe('settings', () => {
  const patch = (payload: object, version: number) =>
    t.call('owner', {
      method: 'PATCH',
      url: '/v1/settings',
      payload,
      headers: { 'if-match': `"${version}"` },
    });

  test('the owner changes one number, all others stay', async () => {
    const before = (await get('/v1/settings', 'owner')).body;
    expect(before).toMatchObject({ changes: {}, version: 0 });
    const after = await patch({ yearlyPlugRisk: { finished: 0.01 } }, 0);
    expect(after.body.settings.yearlyPlugRisk).toEqual({
      ...before.settings.yearlyPlugRisk,
      finished: 0.01,
    });
    expect(after.body.changes).toEqual({ yearlyPlugRisk: { finished: 0.01 } });
    expect((await patch({ yearlyPlugRisk: null }, 0)).status).toBe(412);
    const back = await patch({ yearlyPlugRisk: null }, after.body.version);
    expect(back.body.settings).toEqual(before.settings);
  });

  test('what does not fit is refused and named', async () => {
    const { version } = (await get('/v1/settings', 'owner')).body;
    const over = await patch({ limits: { action: { yard_drain: 0.95 } } }, version);
    expect(over.status).toBe(422);
    expect(over.body.errors[0]).toMatchObject({
      pointer: '#/limits/action/yard_drain',
      remedy: 'less than 0.9',
    });
    const share = await patch({ limits: { plug: 1.2 } }, version);
    expect(share.body.errors[0]).toMatchObject({ pointer: '#/limits/plug', remedy: 'at most 1' });
    const unknown = await patch({ limits: { plugg: 0.9 } }, version);
    expect(unknown.body.errors[0].pointer).toBe('#/limits/plugg');
    expect((await patch({ surveys: { perWeek: 2.5 } }, version)).status).toBe(400);
    expect((await get('/v1/settings', 'owner')).body.version).toBe(version);
    expect(
      (
        await t.call('dispatcher', {
          method: 'PATCH',
          url: '/v1/settings',
          payload: {},
          headers: { 'if-match': '*' },
        })
      ).status,
    ).toBe(403);
  });
});

describe('changes', () => {
  test('an app hears of everything after its place, once and in order, removals included', async () => {
    const place = (await get('/v1/changes')).body.next;
    const client = await made('/v1/clients', { name: 'Reed' });
    const url = `/v1/clients/${client.id}`;
    await t.call('dispatcher', {
      method: 'PATCH',
      url,
      payload: { note: 'x' },
      headers: { 'if-match': '"1"' },
    });
    await t.house.transact({ name: 'test' }, (stores) => stores.rows.remove('client', client.id));
    const first = (await get(`/v1/changes?since=${place}&limit=2`)).body;
    expect(first.items).toMatchObject([
      { resource: 'client', id: client.id, op: 'created', version: 1, href: url },
      { resource: 'client', id: client.id, op: 'changed', version: 2 },
    ]);
    expect(first.more).toBe(true);
    const rest = (await get(`/v1/changes?since=${first.next}`)).body;
    expect(rest.items).toMatchObject([{ op: 'removed', href: null }]);
    const end = (await get(`/v1/changes?since=${rest.next}`)).body;
    expect(end).toEqual({ items: [], next: rest.next, more: false });
  });

  test('a transaction that commits late is not overtaken', async () => {
    const place = (await get('/v1/changes')).body.next;
    const slow = await t.pool.connect();
    await slow.query('BEGIN');
    await slow.query(`INSERT INTO client (id, name) VALUES ($1, 'slow')`, [randomUUID()]);
    await made('/v1/clients', { name: 'quick' });
    const during = (await get(`/v1/changes?since=${place}`)).body;
    await slow.query('COMMIT');
    slow.release();
    const after = (await get(`/v1/changes?since=${during.next}`)).body;
    expect(during.items).toEqual([]);
    expect(after.items.map((item: Json) => item.op)).toEqual(['created', 'created']);
  });

  test('a place that is none is refused; a key of no person hears nothing', async () => {
    expect((await get('/v1/changes?since=nonsense')).body.errors[0].pointer).toBe('#/querystring:since');
    await made('/v1/clients', { name: 'other' });
    const start = Buffer.from('0.0').toString('base64url');
    expect((await get(`/v1/changes?since=${start}`, 'technician')).body.items).toEqual([]);
  });
});

test('a doubted reading is confirmed or dismissed by a person', async () => {
  const reading = await made('/v1/inspections', {
    lineId: footing.id,
    observedAt: '2026-09-30T15:00:00Z',
    phase: 'no_cleaning',
    reading: { method: 'camera', share: 0.9 },
  });
  const doubt = {
    inspectionId: reading.id,
    lineId: footing.id,
    weight: 0.1,
    suspicion: 'far above what the line does',
  };
  const afterNight = (doubts: (typeof doubt)[]) =>
    t.house.transact({ name: 'night' }, (stores) => stores.night.openReviews(doubts, [footing.id]));
  await afterNight([doubt]);
  const list = (await get('/v1/reading-reviews?verdict=open')).body.items;
  expect(list).toMatchObject([{ inspectionId: reading.id, address: '1 Marsh Gate', occlusion: 0.9 }]);
  // A later reading makes it plausible, a still later one doubtful again.
  await afterNight([]);
  expect((await get('/v1/reading-reviews?verdict=settled')).body.items).toMatchObject([
    { inspectionId: reading.id, weight: 1, decidedBy: null },
  ]);
  await afterNight([doubt]);
  expect((await get('/v1/reading-reviews?verdict=open')).body.items).toHaveLength(1);
  // Held by nothing yet; named by the due date as what it stands on, it says which.
  expect((await get('/v1/reading-reviews?verdict=open')).body.items[0].holdsDueOn).toBeNull();
  const settle = await post(`/v1/reading-reviews/${reading.id}/verdict`, { verdict: 'settled' });
  expect(settle.status).toBe(400);
  const judged = await post(`/v1/reading-reviews/${reading.id}/verdict`, { verdict: 'dismissed' });
  await afterNight([]);
  expect(judged.body).toMatchObject({ verdict: 'dismissed', decidedBy: 'dispatcher', weight: 0 });
  expect((await get('/v1/reading-reviews?verdict=open')).body.items).toEqual([]);
  expect((await get('/v1/reading-reviews?verdict=settled')).body.items).toEqual([]);
  expect((await post(`/v1/reading-reviews/${randomUUID()}/verdict`, { verdict: 'open' })).status).toBe(404);
});

test('content that came with a taken id is listed and settled', async () => {
  const id = randomUUID();
  await made('/v1/clients', { id, name: 'first' });
  expect((await post('/v1/clients', { id, name: 'second' })).status).toBe(409);
  const open = (await get('/v1/conflicts?settled=false')).body.items;
  expect(open).toMatchObject([{ resource: 'client', resourceId: id, content: { id, name: 'second' } }]);
  const settled = await t.call('owner', { method: 'POST', url: `/v1/conflicts/${open[0].id}/settlement` });
  expect(settled.body.settledBy).toBe('owner');
  expect((await get('/v1/conflicts?settled=false')).body.items).toEqual([]);
});
