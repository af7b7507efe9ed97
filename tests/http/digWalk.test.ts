import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** One system from its first survey to plugged, dug, replaced and restored, with the nights between. */
let t: TestHouse;
let site: Json;
let pit: Json;
let line: Json;
let outlet: Json;

async function ask(
  method: 'GET' | 'POST' | 'PATCH',
  url: string,
  payload?: object,
  status?: number,
): Promise<Json> {
  const answer = await t.call('owner', {
    method,
    url,
    ...(payload ? { payload } : {}),
    headers: method === 'PATCH' ? { 'if-match': '*' } : {},
  });
  expect(answer.status, `${method} ${url} ${answer.text}`).toBe(status ?? (method === 'POST' ? 201 : 200));
  return answer.body ?? answer.text;
}
const get = (url: string) => ask('GET', url);
const post = (url: string, payload: object, status?: number) => ask('POST', url, payload, status);
function at(instant: string): string {
  t.clock.at = new Date(instant);
  return instant;
}
async function night(day: string): Promise<Json> {
  at(`${day}T07:00:00Z`);
  const started = await post('/v1/nightly-runs', { businessDay: day }, 202);
  await t.work();
  const run = await get(`/v1/nightly-runs/${started.id}`);
  expect(run.state, JSON.stringify(run)).toBe('done');
  return run.steps.find((step: Json) => step.name === 'order').counts;
}
const ahead = async (): Promise<Json[]> =>
  (await get(`/v1/work-orders?siteId=${site.id}&sort=number`)).items.filter((order: Json) =>
    ['wanted', 'placed'].includes(order.state),
  );
const whole = (order: Json) => get(`/v1/work-orders/${order.id}`);
const kindsOf = async (order: Json) => (await whole(order)).tasks.map((task: Json) => task.kind);
const begin = (order: Json, startedAt: string, status = 200) =>
  post(`/v1/work-orders/${order.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status);
const finish = (order: Json, endedAt: string, more: object = {}, status = 200) =>
  post(
    `/v1/work-orders/${order.id}/finish`,
    {
      endedAt: at(endedAt),
      result: 'done',
      flowProven: 'yes',
      pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
      water: { receiver: 'caught', sludgeTo: 'depot' },
      ...more,
    },
    status,
  );
const camera = (day: string, share: number, phase: string, workOrderId?: string) =>
  post('/v1/inspections', {
    lineId: line.id,
    observedAt: at(`${day}T14:10:00Z`),
    phase,
    reading: { method: 'camera', share },
    deposit: 'gel',
    ...(workOrderId ? { workOrderId } : {}),
  });
async function meet(order: Json, kind: string, facts: object): Promise<void> {
  const { items } = await get(`/v1/preconditions?workOrderId=${order.id}&kind=${kind}`);
  await ask('PATCH', `/v1/preconditions/${items[0].id}`, { state: 'met', facts });
}

beforeAll(async () => {
  t = await testHouse('2026-01-05T14:00:00Z');
  site = await post('/v1/sites', { address: '7 Marsh Gate', town: 'Brindle', basement: 'finished' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    outlet: 'creek',
    length: { value: 12, unit: 'm' },
    lift: { value: 9, unit: 'ft' },
    ferrousIron: { value: 6, unit: 'mg/L' },
  });
  await post('/v1/line-sections', {
    lineId: line.id,
    product: 'schedule_40',
    nominal: '1-1/2',
    installedOn: '2015-05-01',
  });
  pit = await post('/v1/pits', {
    siteId: site.id,
    systemId: system.id,
    dischargeLineId: line.id,
    inflow: { value: 4, unit: 'gpm' },
  });
  await post('/v1/pumps', {
    pitId: pit.id,
    curve: [
      { flow: { value: 0, unit: 'L/s' }, head: { value: 6.7, unit: 'm' } },
      { flow: { value: 2.27, unit: 'L/s' }, head: { value: 3.05, unit: 'm' } },
    ],
    installedOn: '2015-05-01',
  });
  const depot = await post('/v1/depots', { name: 'North yard', latitude: 44.6, longitude: -90.3 });
  const jetter = { name: 'Jetter', kind: 'jetter', depotId: depot.id, reach: { value: 10, unit: 'm' } };
  await post('/v1/kit-items', jetter);
  outlet = await post('/v1/access-points', {
    siteId: site.id,
    lineId: line.id,
    kind: 'outlet',
    place: 'by the willow',
  });
}, 60_000);

test('survey and readings: the night learns the line, dates it and its pit, and orders a visit that can be done', async () => {
  await night('2026-01-05');
  const [survey] = await ahead();
  expect(survey.cause).toBe('first_survey');
  expect(await kindsOf(survey)).toContain('survey');
  // The outlet runs to a creek: where the water goes is decided before anybody flushes.
  expect((await whole(survey)).waitsFor).toMatchObject([{ kind: 'discharge_plan', state: 'open' }]);
  expect((await begin(survey, '2026-01-07T14:00:00Z', 422)).errors[0].detail).toContain('discharge_plan');
  await post(`/v1/work-orders/${survey.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });
  await begin(survey, '2026-01-07T14:00:00Z');
  await camera('2026-01-07', 0.15, 'before_cleaning', survey.id);
  await finish(survey, '2026-01-07T15:30:00Z');
  // A pit is dated like a line: known ochre, tested again within 90 days (7 January and 90 days).
  await night('2026-01-12');
  expect(await get(`/v1/pits/${pit.id}`)).toMatchObject({ lastTestedOn: '2026-01-07', dueOn: '2026-04-07' });

  const [next] = await ahead();
  expect(await kindsOf(next)).toEqual(['clear_pit', 'hose_flush', 'test_pump']);
  await begin(next, '2026-02-05T14:00:00Z');
  await camera('2026-02-05', 0.4, 'before_cleaning', next.id);
  await finish(next, '2026-02-05T15:30:00Z');
  await camera('2026-03-05', 0.42, 'no_cleaning');
  await night('2026-03-06');
  const { trend } = await get(`/v1/lines/${line.id}/trend`);
  expect(trend.readingsUsed).toBe(3);
  expect(trend.occlusion.mean).toBeGreaterThan(0.3);
  const [due] = await ahead();
  const visit = await whole(due);
  expect(visit.tasks.map((task: Json) => task.kind)).toEqual(['clear_pit', 'jet', 'test_pump']);
  // What was decided for the survey holds; the jetter reaches 10 of the 12 m from the outlet.
  expect(visit.waitsFor).toMatchObject([
    { kind: 'discharge_plan', state: 'met', facts: { receiver: 'caught' } },
  ]);
  const jet = visit.tasks[1];
  expect(jet.plan.entries).toEqual([{ accessPointId: outlet.id, runM: 10 }]);
  expect(visit.becauseOf.find((each: Json) => each.code === 'out_of_reach').facts).toMatchObject({
    missingM: 2,
  });
});

test('the figures of the line on the books, and what is missing where they cannot be drawn', async () => {
  const capacity = await get(`/v1/lines/${line.id}/capacity.svg?units=us`);
  expect(capacity).toContain('Capacity left in');
  expect(capacity).toContain('believed now');
  expect(capacity).toContain('action limit');
  expect(capacity).toContain('Hazen-Williams, C 150');
  const pump = await get(`/v1/pits/${pit.id}/pump.svg`);
  expect(pump).toContain('<svg');
  const bare = await post('/v1/lines', {
    siteId: site.id,
    systemId: line.systemId,
    name: 'Yard',
    kind: 'yard_drain',
  });
  const refused = await ask('GET', `/v1/lines/${bare.id}/capacity.svg`, undefined, 422);
  expect(refused.errors[0].pointer).toBe('#/bore');
  await ask('PATCH', `/v1/lines/${bare.id}`, { archivedOn: '2026-03-06' });
});

test('two orders for one house are told to whoever asks, and become one visit', async () => {
  const [due] = await ahead();
  const call = await post('/v1/work-orders', {
    siteId: site.id,
    cause: 'call',
    because: 'orange stain at the outlet',
    tasks: [{ kind: 'clear_outlet', lineId: line.id }],
    wantedBy: '2026-03-09',
    priceBasis: 'time_and_material',
  });
  expect(call.warnings).toMatchObject([{ code: 'open_order_at_site', facts: { number: due.number } }]);
  const joined = await post(`/v1/work-orders/${call.id}/joining`, { into: due.id }, 200);
  expect(joined.tasks.map((task: Json) => task.kind)).toEqual([
    'clear_pit',
    'jet',
    'test_pump',
    'clear_outlet',
  ]);
  // The earlier day rules; clearing an outlet takes 20 minutes.
  expect([joined.wantedBy, joined.minutes]).toEqual([due.wantedBy, due.minutes + 20]);
  expect(await whole(call)).toMatchObject({ state: 'withdrawn', tasks: [] });
  expect((await post(`/v1/work-orders/${due.id}/joining`, { into: due.id }, 422)).errors[0].pointer).toBe(
    '#/into',
  );
});

test('plugged: jet, camera with a pump, cable, trace; ticket, parts, trench checks; replaced, proven, restored', async () => {
  const [visit] = await ahead();
  await begin(visit, '2026-03-09T14:00:00Z');
  await post('/v1/inspections', {
    lineId: line.id,
    workOrderId: visit.id,
    observedAt: at('2026-03-09T14:10:00Z'),
    phase: 'before_cleaning',
    plugged: { cause: 'deposit' },
  });
  // The jet of this visit stopped at 4 m: a camera looks in before any cutter, then the cable, not another jet.
  await post('/v1/cleans', {
    lineId: line.id,
    workOrderId: visit.id,
    cleanedAt: at('2026-03-09T14:40:00Z'),
    task: 'jet',
    flowProven: 'no',
    nozzleStopped: { value: 4, unit: 'm' },
  });
  await finish(visit, '2026-03-09T16:00:00Z', { flowProven: 'no' });
  const [pump, look] = await ahead();
  // Four gallons a minute run in: a pump goes round the plug at once, and waits for nobody's yes to the rest.
  expect(await kindsOf(pump)).toEqual(['temporary_pump']);
  expect((await whole(pump)).waitsFor).toMatchObject([
    { kind: 'discharge_plan', state: 'met', facts: { receiver: 'caught' } },
  ]);
  // Water rising is answered in 120 minutes, in half of that where the basement is finished.
  expect(pump.respondBy).toBe('2026-03-09T17:00:00.000Z');
  const urgent = await get('/v1/events?type=urgent_work');
  expect(urgent.items).toMatchObject([
    { workOrderId: pump.id, facts: { withinMinutes: 60, respondBy: pump.respondBy } },
  ]);
  await begin(pump, '2026-03-09T16:10:00Z');
  await finish(pump, '2026-03-09T16:25:00Z', { flowProven: 'not_possible' });
  expect(await kindsOf(look)).toEqual(['inspect']);
  expect(look.kit).toEqual(['camera']);
  expect((await whole(look)).waitsFor).toMatchObject([{ kind: 'consent', state: 'open' }]);
  await meet(look, 'consent', { by: 'A. Sedge', at: '2026-03-09T12:00:00Z' });
  await begin(look, '2026-03-09T16:30:00Z');
  await post('/v1/inspections', {
    lineId: line.id,
    workOrderId: look.id,
    observedAt: at('2026-03-09T16:40:00Z'),
    phase: 'no_cleaning',
    plugged: { cause: 'deposit', seenBy: 'camera' },
  });
  await finish(look, '2026-03-09T17:00:00Z', { flowProven: 'no' });
  const [cable] = await ahead();
  expect(await kindsOf(cable)).toEqual(['cable']);
  await meet(cable, 'consent', { by: 'A. Sedge', at: '2026-03-10T12:00:00Z' });
  await begin(cable, '2026-03-10T14:00:00Z');
  await finish(cable, '2026-03-10T15:00:00Z', { flowProven: 'no' });
  const [trace] = await ahead();
  expect(await kindsOf(trace)).toEqual(['trace']);
  await seeToPump('2026-03-11');
  await meet(trace, 'consent', { by: 'A. Sedge', at: '2026-03-11T12:00:00Z' });
  await begin(trace, '2026-03-11T14:00:00Z');
  const found = (await whole(trace)).tasks.find((task: Json) => task.kind === 'trace');
  const m = (value: number) => ({ value, unit: 'm' });
  await finish(trace, '2026-03-11T15:00:00Z', {
    flowProven: 'not_possible',
    tasks: [{ id: found.id, result: 'done', found: { from: m(0), to: m(12), depth: m(1.3) } }],
  });
  await seeToPump('2026-03-13');
  const [first, second, restore] = await ahead();
  expect(await kindsOf(second)).toEqual(['dig_and_replace', 'inspect', 'test_pump']);
  await dig(first, second);
  // Six weeks for the fill to settle: 20 March and 42 days
  expect((await begin(restore, '2026-04-30T14:00:00Z', 422)).errors[0].remedy).toContain('2026-05-01');
  await begin(restore, '2026-05-01T14:00:00Z');
  expect((await finish(restore, '2026-05-01T18:00:00Z')).state).toBe('done');

  // A new line: a clean epoch, and the night believes it emptier than the old one was left.
  await night('2026-05-02');
  const { trend } = await get(`/v1/lines/${line.id}/trend`);
  expect(trend.occlusion.mean).toBeLessThan(0.25);
  expect(
    (await get(`/v1/epochs?lineId=${line.id}`)).items.map((epoch: Json) => [epoch.begins, epoch.because]),
  ).toContainEqual(['clean', 'replaced']);
}, 60_000);

/** A pump that is in is seen to once a day, by an order of its own that waits for nothing. */
async function seeToPump(day: string): Promise<void> {
  await night(day);
  const orders = await ahead();
  const [check] = orders.filter((order) => order.becauseOf[0].code === 'temporary_pump_check');
  const { tasks, waitsFor } = await whole(check);
  expect(tasks.map((task: Json) => [task.kind, task.plan])).toEqual([['temporary_pump', { check: true }]]);
  expect([waitsFor, check.wantedBy]).toEqual([[], day]);
  await begin(check, `${day}T12:30:00Z`);
  await finish(check, `${day}T12:50:00Z`, { flowProven: 'not_possible' });
}

async function dig(first: Json, second: Json): Promise<void> {
  await meet(first, 'quote_accepted', {
    lines: 'discharge',
    notToExceedMinor: 900_000,
    acceptedBy: 'A. Sedge',
    acceptedAt: '2026-03-12T18:00:00Z',
  });
  await meet(first, 'parts', { pipe: '13 m of 4 in' });
  await post(`/v1/work-orders/${first.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });
  const rule = await post('/v1/locate-rules', {
    name: 'County',
    notice: 3,
    noticeUnit: 'business_day',
    life: 21,
    lifeUnit: 'calendar_day',
    holidays: ['2026-07-03', '2026-11-26'],
    source: 'test',
    confirmedBy: 'Owner',
    confirmedOn: '2026-03-12',
  });
  const ticket = await post(`/v1/work-orders/${first.id}/locate-tickets`, {
    ruleId: rule.id,
    calledAt: at('2026-03-13T13:00:00Z'),
    utilities: ['gas'],
  });
  // Friday the 13th; Monday to Wednesday are the three full days
  expect([ticket.firstDay, ticket.lastDay]).toEqual(['2026-03-19', '2026-04-03']);
  at('2026-03-18T15:10:00Z');
  await post(
    `/v1/locate-tickets/${ticket.id}/news`,
    {
      answers: [{ utility: 'gas', answer: 'marked', at: '2026-03-16T15:00:00Z' }],
      marksSeenAt: '2026-03-18T15:00:00Z',
      privateLinesLocatedAt: '2026-03-18T15:10:00Z',
    },
    200,
  );
  const m = (value: number) => ({ value, unit: 'm' });
  const check = (order: Json, checkedAt: string, more: object = {}) =>
    post(`/v1/work-orders/${order.id}/trench-checks`, {
      checkedAt: at(checkedAt),
      checkedBy: 'Heron',
      depth: m(1.8),
      protection: 'sloped',
      slopeRatio: 1.5,
      exitWithin: m(4),
      spoilBack: m(0.8),
      oxygenPercent: 20.8,
      ladderAbove: m(1),
      ...more,
    });
  const steep = await check(first, '2026-03-19T13:00:00Z', { slopeRatio: 1, ladderAbove: m(0.5) });
  expect([steep.passed, steep.faults.map((each: Json) => each.code)]).toEqual([
    false,
    ['too_steep', 'ladder_short'],
  ]);
  await begin(first, '2026-03-19T14:00:00Z', 422);
  await check(first, '2026-03-19T13:30:00Z');
  await begin(first, '2026-03-19T14:00:00Z');
  const pipe = { lineId: line.id, material: 'pvc', bore: { value: 4, unit: 'in' } };
  await finish(first, '2026-03-19T20:00:00Z', {
    flowProven: 'not_possible',
    replaced: [{ ...pipe, from: m(0), to: m(6) }],
  });
  await check(second, '2026-03-20T13:30:00Z');
  await begin(second, '2026-03-20T14:00:00Z');
  const rest = { replaced: [{ ...pipe, from: m(6), to: m(12) }] };
  const unproven = await finish(second, '2026-03-20T20:00:00Z', { ...rest, flowProven: 'no' }, 422);
  expect(unproven.errors[0].pointer).toBe('#/flowProven');
  await finish(second, '2026-03-20T20:00:00Z', rest);
  const sections = (await get(`/v1/line-sections?lineId=${line.id}`)).items;
  expect(
    sections
      .filter((each: Json) => each.removedOn === null)
      .map((each: Json) => [each.from.value, each.to.value, each.material])
      .sort(),
  ).toEqual([
    [0, 6, 'pvc'],
    [6, 12, 'pvc'],
  ]);
}
