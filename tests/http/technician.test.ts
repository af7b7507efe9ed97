import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { OCCLUSION_WORDS } from '../../src/domain/readings/reading.js';
import { CAME_BACK, FLOW_PROVEN, OUTLET_STATES, PLUG_CAUSES, TASK_KINDS } from '../../src/domain/words.js';
import { oneTaps } from '../../src/domain/work/oneTap.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: RoutedHouse;
let key: string;
const NOW = '2026-10-01T20:00:00Z';

beforeAll(async () => {
  t = await routedHouse('2026-10-01', NOW);
  key = await t.keyOf('Tern');
  const { rows } = t.house.stores;
  await rows.update('line', t.own.lineId, { drains_to: 'pit', drains_to_pit_id: t.own.pitId });
  for (const [position, kind, on] of [
    [1, 'jet', { line_id: t.own.lineId }],
    [2, 'test_pump', { pit_id: t.own.pitId }],
  ] as const)
    await rows.insert('work_order_task', {
      id: randomUUID(),
      work_order_id: t.orderId,
      position,
      kind,
      minutes: 30,
      plan: kind === 'jet' ? { passes: 3 } : {},
      ...on,
    });
  await rows.insert('access_point', {
    id: randomUUID(),
    site_id: t.own.siteId,
    line_id: t.own.lineId,
    kind: 'cleanout',
    place: 'behind the hedge, under a round lid',
    distance_m: 4,
    distance_from: 'the outlet',
    kit_can_enter: ['jetter'],
  });
}, 60_000);

const get = async (url: string): Promise<Json> => {
  const { status, body } = await t.as(key, 'GET', url);
  expect(status, JSON.stringify(body)).toBe(200);
  return body;
};
const send = async (url: string, payload: object): Promise<Json> => {
  const { status, body } = await t.as(key, 'POST', url, payload);
  expect(status, JSON.stringify(body)).toBe(201);
  return body;
};
let minute = 0;
const at = () => new Date(Date.UTC(2026, 9, 1, 13, minute++)).toISOString();

test('a stop has all that is needed on site: how to find each access point, sketch, last readings, pictures, notes, plan and taps', async () => {
  for (const word of ['half', 'light', 'clear', 'clear', 'clear'])
    await send('/v1/inspections', {
      lineId: t.own.lineId,
      observedAt: at(),
      phase: 'no_cleaning',
      reading: { method: 'by_word', word },
    });
  await send('/v1/inspections', {
    pitId: t.own.pitId,
    observedAt: at(),
    phase: 'no_cleaning',
    pitTest: { floatCycled: true, sludgeShare: 0.25 },
  });
  await send('/v1/notes', { siteId: t.own.siteId, text: 'gate sticks', notedAt: at() });
  const route = (await get('/v1/routes?day=2026-10-01')).items[0];
  const [{ site, workOrder }] = route.stops;
  expect(site.accessPoints).toMatchObject([
    {
      place: 'behind the hedge, under a round lid',
      distance: { value: 4, unit: 'm' },
      distanceFrom: 'the outlet',
      unconfirmed: false,
    },
  ]);
  expect(site.notes).toMatchObject([{ text: 'gate sticks', author: 'Tern' }]);
  expect(site.systems).toEqual([
    { id: t.own.systemId, name: 'Pit', kind: 'pit', sketch: `/v1/systems/${t.own.systemId}/sketch.svg` },
  ]);
  const [jet, pump] = workOrder.tasks;
  expect(jet.plan).toEqual({ passes: 3 });
  expect(jet.line.lastReadings.map((each: Json) => each.occlusion)).toEqual([0.05, 0.05, 0.05, 0.2]);
  expect(jet.oneTaps.map((each: Json) => each.code)).toEqual([
    'occlusion_before_cleaning',
    'plugged',
    'came_back',
    'passes_to_clear',
    'nozzle_stopped',
    'flow_proven',
    'occlusion_after_cleaning',
    'gas',
    'hard_stop',
  ]);
  expect(pump.pit.lastLook.found).toEqual({ floatCycled: true, sludgeShare: 0.25 });
  expect(workOrder.cautions.map((each: Json) => each.code)).toContain('jet_injury');
  const sketch = await t.app.inject({
    url: site.systems[0].sketch,
    headers: { authorization: `Bearer ${key}` },
  });
  expect(sketch.statusCode).toBe(200);
  // 4 m from the outlet of a line of 30 m.
  expect(sketch.body).toMatch(/26.m from upstream/);
  const foreign = await t.as(key, 'GET', `/v1/systems/${t.foreign.systemId}/sketch.svg`);
  expect(foreign.status).toBe(404);
});

test('the cautions of an order, of its stop and of the printed sheet are the same', async () => {
  const { rows } = t.house.stores;
  // What adds cautions lies beside what is worked on: another pit one could get into, another line tied to a sewer.
  const more = { site_id: t.own.siteId, system_id: t.own.systemId };
  const systemId = randomUUID();
  await rows.insert('system', { id: systemId, site_id: t.own.siteId, name: 'Back', kind: 'pit' });
  await rows.insert('pit', { ...more, system_id: systemId, id: randomUUID(), enterable: true });
  const tied = { name: 'Floor', kind: 'floor_drain', outlet: 'sanitary_sewer', discharge_permit_ref: 'S-1' };
  await rows.insert('line', { ...more, id: randomUUID(), ...tied });
  const { items } = await get(`/v1/work-orders/${t.orderId}/cautions`);
  const [{ workOrder }] = (await get(`/v1/routes/${t.routeId}`)).stops;
  expect(workOrder.cautions).toEqual(items);
  expect(items.map((each: Json) => each.code)).toEqual(
    expect.arrayContaining(['jet_injury', 'confined_space', 'sewage', 'local_codes']),
  );
  const sheet = await t.call('owner', {
    method: 'GET',
    url: `/v1/routes/${t.routeId}/sheet`,
    headers: { accept: 'text/html' },
  });
  const printed = sheet.text.replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&amp;', '&');
  for (const { text } of items) expect(printed).toContain(text);
});

test('every one-tap answer is taken where it says, alone and by sync', async () => {
  const read = (reading: object) => ({
    lineId: t.own.lineId,
    phase: 'before_cleaning',
    reading,
  });
  const looks: object[] = [
    ...OCCLUSION_WORDS.map((word) => read({ method: 'by_word', word })),
    ...CAME_BACK.map((cameBack) => read({ method: 'by_word', cameBack })),
    read({ method: 'passes_to_clear', passes: 4, cameBack: 'slugs' }),
    read({ method: 'passes_to_clear', nozzleStopped: { value: 9, unit: 'ft' } }),
    ...OUTLET_STATES.map((outletState) => ({ ...read({ method: 'by_word', word: 'half' }), outletState })),
    ...PLUG_CAUSES.map((cause) => ({
      lineId: t.own.lineId,
      workOrderId: t.orderId,
      phase: 'before_cleaning',
      plugged: { cause },
    })),
  ];
  const cleans: object[] = [
    ...CAME_BACK.map((cameBack) => ({ cameBack })),
    ...FLOW_PROVEN.map((flowProven) => ({ flowProven })),
    { passes: 3, nozzleStopped: { value: 9, unit: 'm' } },
  ].map((more) => ({ lineId: t.own.lineId, task: 'jet', ...more }));
  for (const look of looks) await send('/v1/inspections', { ...look, observedAt: at() });
  for (const clean of cleans) await send('/v1/cleans', { ...clean, cleanedAt: at() });
  const { body } = await t.as(key, 'POST', '/v1/sync', {
    sentAt: NOW,
    items: [
      ...looks.map((look) => ({ kind: 'inspection', id: randomUUID(), at: at(), ...look })),
      ...cleans.map((clean) => ({ kind: 'clean', id: randomUUID(), at: at(), ...clean })),
    ],
  });
  expect(body.items.filter((item: Json) => item.outcome !== 'accepted')).toEqual([]);

  // What is offered is what is taken: the five words, what came back, flow proven.
  const offered = (code: string) =>
    TASK_KINDS.flatMap((kind) => oneTaps(kind))
      .find((tap) => tap.code === code)
      ?.choices?.map(({ value }) => value);
  expect(offered('occlusion_before_cleaning')).toEqual([...OCCLUSION_WORDS]);
  expect(offered('came_back')).toEqual([...CAME_BACK]);
  expect(offered('flow_proven')).toEqual([...FLOW_PROVEN]);
});

test('a technician hears of the own work, and that a stop is gone when its route was replaced without it', async () => {
  const place = (await get('/v1/changes')).next;
  const note = await send('/v1/notes', { siteId: t.own.siteId, text: 'dog', notedAt: at() });
  await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/notes',
    payload: { siteId: t.foreign.siteId, text: 'none of theirs', notedAt: NOW },
  });
  const heard = await get(`/v1/changes?since=${place}`);
  expect(heard.items).toMatchObject([
    { resource: 'note', id: note.id, op: 'created', href: `/v1/notes/${note.id}` },
  ]);

  const { rows } = t.house.stores;
  const [stop] = await rows.all('stop', [{ column: 'route_id', is: '=', value: t.routeId }]);
  const route = (await rows.get('route', t.routeId)) ?? {};
  const [planId, next] = [randomUUID(), randomUUID()];
  await rows.insert('plan', {
    id: planId,
    state: 'proposed',
    from_day: '2026-10-01',
    to_day: '2026-10-01',
    because: 'a crew fell ill',
    asked_by: 'test',
    seed: 1,
    search_seconds: 1,
  });
  await rows.insert('route', { id: next, plan_id: planId, crew_id: route['crew_id'], day: '2026-10-01' });
  await t.house.transact({ name: 'dispatcher' }, (stores) => stores.plans.makeLive(planId));
  const changes = (await get(`/v1/changes?since=${heard.next}`)).items;
  const opOf = (id: unknown) => changes.filter((each: Json) => each.id === id).map((each: Json) => each.op);
  expect(opOf(t.routeId)).toEqual(['removed']);
  expect(opOf(stop?.['id'])).toEqual(['removed']);
  expect(opOf(next)).toEqual(['created', 'changed']);
  expect(changes.find((each: Json) => each.id === next).href).toBe(`/v1/routes/${next}`);
  expect((await get('/v1/routes?day=2026-10-01')).items[0].stops).toEqual([]);
  // The office hears what was done to the rows.
  const office = await t.call('dispatcher', { method: 'GET', url: `/v1/changes?since=${heard.next}` });
  expect(office.body.items.find((each: Json) => each.id === t.routeId).op).toBe('changed');
});
