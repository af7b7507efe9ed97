import { beforeAll, expect, test } from 'vitest';
import { NOT_DONE_REASONS } from '../../src/domain/words.js';
import { afterNotDone } from '../../src/domain/work/notDone.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let site: Json;
let pit: Json;
let discharge: Json;

async function send(
  url: string,
  payload: object,
  status = 201,
  role: 'dispatcher' | 'owner' = 'dispatcher',
): Promise<Json> {
  const answer = await t.call(role, { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
async function get(url: string): Promise<Json> {
  const answer = await t.call('owner', { method: 'GET', url });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
async function patch(
  url: string,
  version: number,
  payload: object,
  role: 'dispatcher' | 'owner' = 'dispatcher',
) {
  const answer = await t.call(role, {
    method: 'PATCH',
    url,
    payload,
    headers: { 'if-match': `"${version}"` },
  });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const fieldsOf = (body: Json): string[] => body.errors.map((fault: Json) => fault.pointer);
const PUMP = { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true };
const DONE = { result: 'done', flowProven: 'yes', pumpRestored: PUMP, water: { receiver: 'caught' } };

/** The clock stands where the work is. */
function at(instant: string): string {
  t.clock.at = new Date(instant);
  return instant;
}
const begin = (order: Json, startedAt: string, status = 200) =>
  send(`/v1/work-orders/${order.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status);
const finish = (order: Json, endedAt: string, more: object = {}, status = 200) =>
  send(`/v1/work-orders/${order.id}/finish`, { endedAt: at(endedAt), ...DONE, ...more }, status);
const open = async (siteId: string): Promise<Json[]> =>
  (await get(`/v1/work-orders?siteId=${siteId}&sort=number`)).items.filter((order: Json) =>
    ['wanted', 'placed', 'under_way'].includes(order.state),
  );
const whole = (order: Json) => get(`/v1/work-orders/${order.id}`);
const kinds = async (order: Json) => (await whole(order)).tasks.map((task: Json) => task.kind);

async function house(address: string, more: object = {}) {
  const made = await send('/v1/sites', { address, town: 'Brindle', ...more });
  const system = await send('/v1/systems', { siteId: made.id, name: 'Pit', kind: 'pit' });
  const line = await send('/v1/lines', {
    siteId: made.id,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    length: { value: 16, unit: 'm' },
    outlet: 'daylight',
  });
  await send('/v1/line-sections', {
    lineId: line.id,
    material: 'corrugated_hdpe',
    bore: { value: 75, unit: 'mm' },
    installedOn: '2015-05-01',
  });
  const hole = await send('/v1/pits', { siteId: made.id, systemId: system.id, dischargeLineId: line.id });
  return { site: made, pit: hole, line };
}

beforeAll(async () => {
  t = await testHouse('2026-05-29T12:00:00Z');
  ({ site, pit, line: discharge } = await house('7 Marsh Gate'));
});

test('a system from first survey to plugged, opened in vain, traced, dug in parts, replaced and restored', async () => {
  // First survey: the discharge is nearly shut.
  const survey = await send('/v1/work-orders', {
    siteId: site.id,
    because: 'new to the books',
    tasks: [{ kind: 'survey', lineId: discharge.id }],
  });
  await begin(survey, '2026-06-01T14:00:00Z');
  await send('/v1/inspections', {
    lineId: discharge.id,
    workOrderId: survey.id,
    observedAt: at('2026-06-01T14:10:00Z'),
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
  await finish(survey, '2026-06-01T15:00:00Z', { flowProven: 'no' });

  // Plugged by deposit: jet before anything else, and a pump, for a shut discharge drowns its pit.
  const [pump, jet] = await open(site.id);
  expect([await kinds(pump), await kinds(jet)]).toEqual([['temporary_pump'], ['jet']]);
  expect((await whole(pump)).tasks[0].plan).toEqual({ set: true });
  expect(jet.cause).toBe('plugged');
  expect(jet.returnsForId).toBe(survey.id);
  // Nobody signed up for time and material: the client says yes first.
  expect((await begin(jet, '2026-06-01T15:30:00Z', 422)).errors[0].detail).toBe('consent is open');
  // The pump waits for nobody's yes.
  await begin(pump, '2026-06-01T15:10:00Z');
  await finish(pump, '2026-06-01T15:20:00Z', { flowProven: 'not_possible' });
  await meet(jet, 'consent', { by: 'A. Sedge', at: '2026-06-01T15:20:00Z' });
  const unseen = await send(
    `/v1/work-orders/${jet.id}/start`,
    { startedAt: at('2026-06-01T15:30:00Z') },
    422,
  );
  expect(fieldsOf(unseen)).toEqual(['#/cautionsSeen']);
  const cautions = await get(`/v1/work-orders/${jet.id}/cautions`);
  expect(cautions.items.map((each: Json) => each.code)).toContain('jet_injury');
  await begin(jet, '2026-06-02T14:00:00Z');
  await send('/v1/cleans', {
    lineId: discharge.id,
    workOrderId: jet.id,
    cleanedAt: at('2026-06-02T14:40:00Z'),
    task: 'jet',
    flowProven: 'no',
    nozzleStopped: { value: 9, unit: 'm' },
  });
  await finish(jet, '2026-06-02T15:00:00Z', { flowProven: 'no' });

  // What stopped the nozzle is looked at by camera before any cutter; then from the other end.
  const [look] = await open(site.id);
  expect(await kinds(look)).toEqual(['inspect']);
  await meet(look, 'consent', { by: 'A. Sedge', at: '2026-06-02T12:00:00Z' });
  await begin(look, '2026-06-02T15:30:00Z');
  await send('/v1/inspections', {
    lineId: discharge.id,
    workOrderId: look.id,
    observedAt: at('2026-06-02T15:40:00Z'),
    phase: 'no_cleaning',
    plugged: { cause: 'deposit', seenBy: 'camera' },
  });
  await finish(look, '2026-06-02T16:00:00Z', { flowProven: 'no' });
  const [cable] = await open(site.id);
  expect(await kinds(cable)).toEqual(['cable']);
  await meet(cable, 'consent', { by: 'A. Sedge', at: '2026-06-03T12:00:00Z' });
  await begin(cable, '2026-06-03T14:00:00Z');
  await finish(cable, '2026-06-03T15:00:00Z', { flowProven: 'no' });

  // Traced; the pump that was set runs on.
  const [trace] = await open(site.id);
  expect(await kinds(trace)).toEqual(['trace']);
  expect((await whole(trace)).waitsFor.map((each: Json) => each.kind)).toEqual(['consent']);
  await meet(trace, 'consent', { by: 'A. Sedge', at: '2026-06-04T12:00:00Z' });
  await begin(trace, '2026-06-04T14:00:00Z');
  const traceTask = (await whole(trace)).tasks.find((task: Json) => task.kind === 'trace');
  await finish(trace, '2026-06-04T15:00:00Z', {
    flowProven: 'not_possible',
    tasks: [
      {
        id: traceTask.id,
        result: 'done',
        found: {
          from: { value: 0, unit: 'm' },
          to: { value: 16, unit: 'm' },
          depth: { value: 1.3, unit: 'm' },
        },
      },
    ],
  });

  // 16 m: two linked parts and the restoration.
  const [first, second, restore] = await open(site.id);
  expect([await kinds(first), await kinds(second), await kinds(restore)]).toEqual([
    ['dig_and_replace'],
    ['dig_and_replace', 'inspect', 'test_pump'],
    ['restore'],
  ]);
  expect([first.followsId, second.followsId, restore.followsId]).toEqual([trace.id, first.id, second.id]);
  expect(restore.followsAfterDays).toBe(42);
  const digPlan = (await whole(second)).tasks[0].plan;
  expect(digPlan).toMatchObject({ fromM: 8, toM: 16, part: 2, parts: 2, newMaterial: 'pvc' });
  const waits = (await whole(first)).waitsFor;
  expect(waits.map((each: Json) => each.kind).sort()).toEqual([
    'discharge_plan',
    'locate_ticket',
    'parts',
    'quote_accepted',
  ]);

  await digging(first, second);
  await restoring(restore);
});

async function precondition(order: Json, kind: string): Promise<Json> {
  const { items } = await get(`/v1/preconditions?workOrderId=${order.id}&kind=${kind}`);
  return items[0];
}
async function meet(order: Json, kind: string, facts: object) {
  const row = await precondition(order, kind);
  await patch(`/v1/preconditions/${row.id}`, row.version, { state: 'met', facts });
}
const check = (order: Json, checkedAt: string, more: object = {}) =>
  send(`/v1/work-orders/${order.id}/trench-checks`, {
    checkedAt: at(checkedAt),
    checkedBy: 'Heron',
    depth: { value: 1.3, unit: 'm' },
    protection: 'shored',
    exitWithin: { value: 4, unit: 'm' },
    spoilBack: { value: 0.8, unit: 'm' },
    oxygenPercent: 20.8,
    ...more,
  });

async function digging(first: Json, second: Json): Promise<void> {
  // The quote says its lines, its most, by whom and when.
  const quote = await precondition(first, 'quote_accepted');
  const bare = await t.call('dispatcher', {
    method: 'PATCH',
    url: `/v1/preconditions/${quote.id}`,
    payload: { state: 'met', facts: { lines: 'discharge' } },
    headers: { 'if-match': `"${quote.version}"` },
  });
  expect([bare.status, fieldsOf(bare.body)]).toEqual([422, ['#/facts']]);
  expect((await whole(second)).waitsFor.map((each: Json) => each.kind)).toEqual(['locate_ticket']);
  await meet(first, 'quote_accepted', {
    lines: 'discharge',
    notToExceedMinor: 900_000,
    acceptedBy: 'A. Sedge',
    acceptedAt: '2026-06-04T18:00:00Z',
  });
  await meet(first, 'parts', { pipe: '17 m of 4 in' });
  await send(`/v1/work-orders/${first.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });

  // A rule is used once its owner confirmed it against local law.
  const { items } = await get('/v1/locate-rule-templates');
  const michigan = items.find((each: Json) => each.code === 'michigan');
  const rule = await send(
    '/v1/locate-rules',
    {
      name: michigan.name,
      notice: michigan.notice,
      noticeUnit: michigan.noticeUnit,
      source: michigan.source,
    },
    201,
    'owner',
  );
  const ticket = {
    ruleId: rule.id,
    calledAt: at('2026-06-05T13:00:00Z'),
    number: 'T-1',
    utilities: ['gas', 'power'],
  };
  const early = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${first.id}/locate-tickets`,
    payload: ticket,
  });
  expect([early.status, fieldsOf(early.body)]).toEqual([422, ['#/ruleId']]);
  await patch(
    `/v1/locate-rules/${rule.id}`,
    rule.version,
    {
      life: 21,
      lifeUnit: 'calendar_day',
      holidays: ['2026-07-03'],
      confirmedBy: 'Owner',
      confirmedOn: '2026-06-05',
    },
    'owner',
  );
  const called = await send(`/v1/work-orders/${first.id}/locate-tickets`, ticket);
  // Friday call; Monday, Tuesday, Wednesday are the three full days
  expect([called.firstDay, called.lastDay]).toEqual(['2026-06-11', '2026-06-26']);
  expect(called.open).toEqual([
    'gas has not answered',
    'power has not answered',
    'private lines were not located',
  ]);
  const news = (payload: object) => send(`/v1/locate-tickets/${called.id}/news`, payload, 200);
  at('2026-06-10T15:10:00Z');
  await news({ answers: [{ utility: 'gas', answer: 'marked', at: '2026-06-08T15:00:00Z' }] });
  expect(
    (await news({ answers: [{ utility: 'power', answer: 'clear', at: '2026-06-08T16:00:00Z' }] })).open,
  ).toEqual(['the marks were not seen', 'private lines were not located']);
  expect((await whole(first)).waitsFor.find((each: Json) => each.kind === 'locate_ticket').state).toBe(
    'open',
  );
  expect(
    (await news({ marksSeenAt: '2026-06-10T15:00:00Z', privateLinesLocatedAt: '2026-06-10T15:10:00Z' })).open,
  ).toEqual([]);
  for (const order of [first, second])
    expect((await whole(order)).waitsFor.find((each: Json) => each.kind === 'locate_ticket')).toMatchObject({
      state: 'met',
      validTo: '2026-06-26',
    });

  // Only inside the ticket's days, and only into a trench that was checked this shift, after the rain.
  expect(fieldsOf(await begin(first, '2026-06-10T14:00:00Z', 422))).toContain('#/startedAt');
  expect((await begin(first, '2026-06-11T14:00:00Z', 422)).errors[0].detail).toContain('trench check');
  const failed = await check(first, '2026-06-11T13:30:00Z', {
    protection: 'none',
    depth: { value: 1.8, unit: 'm' },
  });
  expect([failed.passed, failed.faults.map((each: Json) => each.code)]).toEqual([false, ['no_protection']]);
  await begin(first, '2026-06-11T14:00:00Z', 422);
  expect((await check(first, '2026-06-11T13:45:00Z')).passed).toBe(true);
  await send('/v1/rain-reports', { area: 'Brindle', endedAt: '2026-06-11T13:50:00Z' });
  expect((await begin(first, '2026-06-11T14:00:00Z', 422)).errors[0].detail).toContain('rain');
  await check(first, '2026-06-11T13:55:00Z');
  await begin(first, '2026-06-11T14:00:00Z');
  await finish(first, '2026-06-11T20:00:00Z', {
    flowProven: 'not_possible',
    replaced: [
      {
        lineId: discharge.id,
        from: { value: 0, unit: 'm' },
        to: { value: 8, unit: 'm' },
        material: 'pvc',
        bore: { value: 4, unit: 'in' },
      },
    ],
  });
  expect(
    (await get(`/v1/epochs?lineId=${discharge.id}`)).items.map((each: Json) => each.because),
  ).not.toContain('replaced');
  expect(
    (await get(`/v1/regime-changes?lineId=${discharge.id}`)).items.map((each: Json) => each.cause),
  ).toEqual(['partial_replacement']);

  await check(second, '2026-06-12T13:45:00Z');
  await begin(second, '2026-06-12T14:00:00Z');
  const last = {
    replaced: [
      {
        lineId: discharge.id,
        from: { value: 8, unit: 'm' },
        to: { value: 16, unit: 'm' },
        material: 'pvc',
        bore: { value: 4, unit: 'in' },
      },
    ],
  };
  // Nobody closes the trench over a line that was not proven.
  expect(fieldsOf(await finish(second, '2026-06-12T20:00:00Z', { ...last, flowProven: 'no' }, 422))).toEqual([
    '#/flowProven',
  ]);
  await finish(second, '2026-06-12T20:00:00Z', last);

  // Nothing of the old line is left: a clean epoch of its own.
  const epochs = (await get(`/v1/epochs?lineId=${discharge.id}`)).items;
  expect(epochs.find((each: Json) => each.because === 'replaced')).toMatchObject({
    startedOn: '2026-06-12',
    begins: 'clean',
  });
  const sections = (await get(`/v1/line-sections?lineId=${discharge.id}`)).items;
  const now = sections.filter((each: Json) => each.removedOn === null);
  expect(now.map((each: Json) => [each.from.value, each.to.value, each.material]).sort()).toEqual([
    [0, 8, 'pvc'],
    [8, 16, 'pvc'],
  ]);
  expect((await get(`/v1/lines/${discharge.id}`)).mainMaterial).toBe('pvc');
  expect((await get(`/v1/pits/${pit.id}`)).lastTestedOn).toBe('2026-06-12');
}

async function restoring(restore: Json): Promise<void> {
  expect((await open(site.id)).map((order: Json) => order.id)).toEqual([restore.id]);
  await begin(restore, '2026-07-27T14:00:00Z');
  const done = await finish(restore, '2026-07-27T18:00:00Z');
  expect(done.state).toBe('done');
  expect(await open(site.id)).toEqual([]);
}

test.each(NOT_DONE_REASONS)('work not done because of %s leads to what its reason says', async (reason) => {
  const home = await house(`${NOT_DONE_REASONS.indexOf(reason) + 10} Quay Side`);
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [{ kind: 'hose_flush', lineId: home.line.id }],
    wantedBy: '2026-08-03',
  });
  await begin(order, '2026-08-03T14:00:00Z');
  const after = afterNotDone(reason);
  // The pump is asked after, but of a crew that never came near it.
  const unreached = ['no_one_home', 'gate', 'dog', 'snow'];
  const bare = {
    result: 'not_done',
    reason,
    flowProven: null,
    pumpRestored: unreached.includes(reason) ? null : PUMP,
    water: null,
  };

  if (reason === 'refused') {
    expect(fieldsOf(await finish(order, '2026-08-03T15:00:00Z', bare, 422))).toEqual(['#/refusal']);
    await finish(order, '2026-08-03T15:00:00Z', {
      ...bare,
      refusal: { by: 'A. Sedge', riskTold: 'the basement may flood', untilDay: '2026-12-01' },
    });
    expect((await whole(order)).state).toBe('withdrawn');
    const [decision] = (await get(`/v1/decisions?siteId=${home.site.id}`)).items;
    expect(decision).toMatchObject({
      kind: 'postponement',
      decidedBy: 'A. Sedge',
      untilDay: '2026-12-01',
      lineIds: [home.line.id],
    });
    return;
  }
  await finish(order, '2026-08-03T15:00:00Z', bare);
  const now = await whole(order);
  expect(now.state).toBe('wanted');
  expect(now.notBefore).toBe(`2026-08-${String(3 + after.againInDays).padStart(2, '0')}`);
  expect(now.wantedBy >= now.notBefore).toBe(true);
  expect(now.waitsFor.map((each: Json) => each.kind)).toEqual(after.opens === null ? [] : [after.opens]);
  expect(now.tasks.map((task: Json) => task.kind)).toEqual(
    reason === 'outlet_not_found' ? ['hose_flush', 'trace'] : ['hose_flush'],
  );
  expect(now.tasks.every((task: Json) => task.result === null)).toBe(true);
  expect(now.attempts.map((attempt: Json) => [attempt.result, attempt.reason, attempt.billed])).toEqual([
    ['not_done', reason, 'no'],
  ]);
});

test('a trip in vain on a day that was told is billed as the reason says; the second time a person looks', async () => {
  const home = await house('30 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [{ kind: 'hose_flush', lineId: home.line.id }],
  });
  for (const day of ['04', '06']) {
    await t.pool.query('INSERT INTO promise (id, work_order_id, day) VALUES (gen_random_uuid(), $1, $2)', [
      order.id,
      `2026-08-${day}`,
    ]);
    await begin(order, `2026-08-${day}T14:00:00Z`);
    await finish(order, `2026-08-${day}T15:00:00Z`, {
      result: 'not_done',
      reason: 'no_one_home',
      flowProven: null,
      pumpRestored: null,
      water: null,
    });
    const someone = await precondition(order, 'someone_home');
    const waiver = { state: 'waived', facts: { because: 'key in the box', waivedBy: 'Owner' } };
    await patch(`/v1/preconditions/${someone.id}`, someone.version, waiver, 'owner');
  }
  expect((await whole(order)).attempts.map((attempt: Json) => attempt.billed)).toEqual(['yes', 'yes']);
  const { rows } = await t.pool.query(
    "SELECT facts FROM event WHERE kind = 'order_tried_in_vain' AND subject_id = $1",
    [order.id],
  );
  expect(rows).toMatchObject([{ facts: { reason: 'no_one_home', tries: 2 } }]);
});

test('partly done work is done; what is left returns with its reason, and costs nothing where it was ours', async () => {
  const home = await house('31 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [
      { kind: 'hose_flush', lineId: home.line.id },
      { kind: 'test_pump', pitId: home.pit.id },
    ],
    priceBasis: 'time_and_material',
  });
  await begin(order, '2026-08-05T14:00:00Z');
  const tasks = (await whole(order)).tasks;
  await finish(order, '2026-08-05T15:00:00Z', {
    result: 'partly',
    reason: 'out_of_time',
    tasks: [{ id: tasks[0].id, result: 'done', takenMinutes: 40 }],
  });
  expect((await whole(order)).state).toBe('done');
  const [back] = await open(home.site.id);
  expect(back).toMatchObject({
    cause: 'return_work',
    returnsForId: order.id,
    priceBasis: 'goodwill',
    notBefore: '2026-08-06',
  });
  expect(back.becauseOf[0].text).toContain('test pump');
  expect(await kinds(back)).toEqual(['test_pump']);
  // The flush that was done is a clean on record, measured or not.
  expect((await get(`/v1/cleans?lineId=${home.line.id}`)).items).toMatchObject([
    { task: 'hose_flush', flowProven: 'yes' },
  ]);
});

test('two poor cleans raise the next rung; while the client refuses it, nobody raises it again', async () => {
  const home = await house('32 Quay Side');
  const visit = async (day: string) => {
    const order = await send('/v1/work-orders', {
      siteId: home.site.id,
      because: 'due',
      cause: 'due',
      tasks: [{ kind: 'jet', lineId: home.line.id }],
    });
    await begin(order, `2026-08-${day}T14:00:00Z`);
    await finish(order, `2026-08-${day}T15:00:00Z`, { flowProven: 'no' });
  };
  await visit('10');
  expect(await open(home.site.id)).toEqual([]);
  await visit('11');
  const [next] = await open(home.site.id);
  expect(await kinds(next)).toEqual(['cable']);
  expect(next.becauseOf[0].code).toBe('two_poor_cleans');
  await meet(next, 'consent', { by: 'A. Sedge', at: '2026-08-12T12:00:00Z' });
  await begin(next, '2026-08-12T14:00:00Z');
  await finish(next, '2026-08-12T15:00:00Z', {
    result: 'not_done',
    reason: 'refused',
    flowProven: null,
    pumpRestored: PUMP,
    water: null,
    refusal: { by: 'client', riskTold: 'it may plug' },
  });
  await visit('20');
  expect(await open(home.site.id)).toEqual([]);
});

test('a plug found after the client postponed is a new fact: an order waits for a call to them, with the risk they were told', async () => {
  const home = await house('34 Quay Side');
  at('2026-08-20T15:00:00Z');
  await send('/v1/decisions', {
    siteId: home.site.id,
    kind: 'postponement',
    decidedBy: 'A. Sedge',
    decidedOn: '2026-08-01',
    riskTold: '4 % a year',
    untilDay: '2027-06-14',
  });
  const plugged = (observedAt: string) =>
    send('/v1/inspections', {
      lineId: home.line.id,
      observedAt,
      phase: 'no_cleaning',
      plugged: { cause: 'deposit' },
    });
  await plugged('2026-07-31T14:00:00Z'); // they knew of that one
  expect(await open(home.site.id)).toEqual([]);
  const other = await house('35 Quay Side');
  await send('/v1/decisions', {
    siteId: other.site.id,
    kind: 'refusal',
    decidedBy: 'B. Reed',
    decidedOn: '2026-08-01',
    riskTold: '4 % a year',
  });
  await send('/v1/inspections', {
    lineId: other.line.id,
    observedAt: '2026-08-19T14:00:00Z',
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
  const orders = await open(other.site.id);
  const order = orders.find(({ cause }: Json) => cause === 'plugged');
  expect(order.becauseOf.map(({ code }: Json) => code)).toContain('plug_after_decision');
  expect(order.becauseOf.at(-1).text).toContain('told: 4 % a year. It was found plugged on 2026-08-19');
  expect(await precondition(order, 'consent')).toMatchObject({ state: 'open' });
  const waiting = await get('/v1/unplaced-work');
  const listed = waiting.items.find(({ workOrderId }: Json) => workOrderId === order.id);
  expect(JSON.stringify(listed)).toContain('phone the client for a yes or no');
});

test('work found while there wants the price accepted, no dig, and a look by the office', async () => {
  const home = await house('33 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [{ kind: 'hose_flush', lineId: home.line.id }],
  });
  const found = {
    foundAt: '2026-08-05T14:20:00Z',
    tasks: [{ kind: 'clear_pit', pitId: home.pit.id, priceMinor: 9_000 }],
  };
  await send(`/v1/work-orders/${order.id}/found-work`, found, 409);
  await begin(order, '2026-08-05T14:00:00Z');
  expect(fieldsOf(await send(`/v1/work-orders/${order.id}/found-work`, found, 422))).toEqual(['#/accepted']);
  const dig = { ...found, tasks: [{ kind: 'dig_and_replace', lineId: home.line.id }] };
  expect(fieldsOf(await send(`/v1/work-orders/${order.id}/found-work`, dig, 422))).toEqual([
    '#/tasks/0/kind',
  ]);
  const before = (await whole(order)).minutes;
  const { items } = await send(`/v1/work-orders/${order.id}/found-work`, {
    ...found,
    accepted: { by: 'A. Sedge', at: '2026-08-05T14:25:00Z' },
  });
  expect(items[0]).toMatchObject({
    kind: 'clear_pit',
    unconfirmed: true,
    priceMinor: 9_000,
    acceptedBy: 'A. Sedge',
  });
  expect((await whole(order)).minutes).toBe(before + items[0].minutes);
  const confirmed = await send(
    `/v1/work-order-tasks/${items[0].id}/confirmation`,
    { priceMinor: 8_000 },
    200,
  );
  expect(confirmed).toMatchObject({ unconfirmed: false, priceMinor: 8_000 });
});

test('a storm drain wants a reference before, is an incident without one after, and the period has a log', async () => {
  const home = await house('34 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [{ kind: 'hose_flush', lineId: home.line.id }],
  });
  const plan = `/v1/work-orders/${order.id}/discharge-plan`;
  expect(fieldsOf(await send(plan, { receiver: 'storm_drain' }, 422))).toEqual(['#/permitRef']);
  await send(plan, { receiver: 'storm_drain', permitRef: 'P-12', place: 'Quay Side inlet' });
  await begin(order, '2026-09-05T14:00:00Z');
  await finish(order, '2026-09-05T15:00:00Z', {
    water: { receiver: 'storm_drain', place: 'Quay Side inlet', water: { value: 100, unit: 'gal' } },
  });
  const log = await get('/v1/water-records?from=2026-09-01&to=2026-09-30');
  expect(log.items).toHaveLength(1);
  expect(log.items[0]).toMatchObject({
    orderNumber: order.number,
    receiver: 'storm_drain',
    permitRef: null,
    plannedReceiver: 'storm_drain',
  });
  expect(log.items[0].water.value).toBeCloseTo(378.5, 1);
  const csv = await t.call('owner', {
    method: 'GET',
    url: '/v1/water-records?from=2026-09-01&to=2026-09-30',
    headers: { accept: 'text/csv' },
  });
  const [head, first] = csv.text.split('\n').map((line: string) => line.split(','));
  const cell = (name: string) => first?.[head?.indexOf(name) ?? -1];
  expect(cell('place')).toBe('Quay Side inlet');
  // Numbers and units apart, so that a spreadsheet can add them up.
  expect([Number(cell('water')), cell('waterUnit')]).toEqual([log.items[0].water.value, 'L']);
  expect((await get('/v1/water-records?from=2026-09-06&to=2026-09-30')).items).toEqual([]);
  const [incident] = (await get('/v1/incidents')).items.filter((each: Json) => each.workOrderId === order.id);
  expect(incident.kind).toBe('discharge');
});

test('the log takes from the plan what nobody wrote down, and marks it; sludge goes by the receiver’s rule', async () => {
  const home = await house('36 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'asked',
    tasks: [{ kind: 'jet', lineId: home.line.id }],
  });
  const plan = `/v1/work-orders/${order.id}/discharge-plan`;
  const refused = async (water: object) => fieldsOf(await send(plan, water, 422));
  expect(await refused({ receiver: 'caught', sludgeTo: 'storm drain' })).toEqual(['#/sludgeTo']);
  expect(await refused({ receiver: 'storm_drain', permitRef: 'x' })).toEqual(['#/permitRef']);
  expect(await refused({ receiver: 'none' })).toEqual(['#/receiver']);
  await send(plan, { receiver: 'caught', sludgeTo: 'depot' });
  await begin(order, '2026-09-08T14:00:00Z');
  const none = await send(
    `/v1/work-orders/${order.id}/finish`,
    { endedAt: at('2026-09-08T15:00:00Z'), result: 'done', flowProven: 'yes', water: { receiver: 'none' } },
    422,
  );
  expect(fieldsOf(none)).toContain('#/water/receiver');
  await finish(order, '2026-09-08T15:00:00Z', { water: { receiver: 'caught', sludgeTo: 'depot' } });
  const url = '/v1/water-records?from=2026-09-08&to=2026-09-08';
  const [entry] = (await get(`${url}&units=metric`)).items;
  expect(order.waterL).toBeGreaterThan(0);
  expect(entry.water).toEqual({ value: order.waterL, unit: 'L' });
  expect(entry.asPlanned).toContain('water');
  const paper = await t.call('owner', {
    method: 'GET',
    url: '/v1/discharge-log?from=2026-09-08&to=2026-09-08&units=metric',
    headers: { accept: 'text/html' },
  });
  expect(paper.text).toContain('water of 1 as planned, not measured');
});

test('a water-jet injury comes with its card and who is told by when; the last of them closes it', async () => {
  const happenedAt = at('2026-09-10T14:00:00Z');
  const made = await send('/v1/incidents', {
    kind: 'jet_injury',
    siteId: site.id,
    happenedAt,
    what: 'hand at the open end',
    consequence: 'hospital',
  });
  expect(made.card).toContain('HIGH-PRESSURE WATER INJECTION');
  expect(made.tell[0]).toMatchObject({ by: '2026-09-10T14:00:00.000Z', toldAt: null });
  expect(
    fieldsOf(
      await send(`/v1/incidents/${made.id}/telling`, { who: 'the neighbour', toldAt: happenedAt }, 422),
    ),
  ).toEqual(['#/who']);
  let last: Json = made;
  at('2026-09-10T14:10:00Z');
  for (const { who } of made.tell)
    last = await send(`/v1/incidents/${made.id}/telling`, { who, toldAt: '2026-09-10T14:10:00Z' }, 200);
  expect(last.closedAt).not.toBeNull();
  expect((await get('/v1/incidents')).items.map((each: Json) => each.id)).not.toContain(made.id);
  expect((await get('/v1/incidents?all=true')).items.map((each: Json) => each.id)).toContain(made.id);
});

test('an emergency ticket is good at once, its answers still asked for; the next call replaces it', async () => {
  const home = await house('35 Quay Side');
  const order = await send('/v1/work-orders', {
    siteId: home.site.id,
    because: 'water rising',
    cause: 'call',
    tasks: [{ kind: 'dig_and_replace', lineId: home.line.id }],
  });
  const rule = (await get('/v1/locate-rules')).items[0];
  const call = { ruleId: rule.id, calledAt: at('2026-09-11T14:00:00Z'), utilities: ['gas'] };
  const urgent = await send(`/v1/work-orders/${order.id}/locate-tickets`, {
    ...call,
    emergencyBecause: 'basement flooding',
  });
  expect([urgent.digFrom, urgent.firstDay, urgent.open]).toEqual([
    '2026-09-11T14:00:00.000Z',
    '2026-09-11',
    ['private lines were not located'],
  ]);
  const next = await send(`/v1/work-orders/${order.id}/locate-tickets`, call);
  expect(next.firstDay).toBe('2026-09-17');
  const { items } = await get(`/v1/work-orders/${order.id}/locate-tickets`);
  expect(items.map((each: Json) => each.replacedById).sort()).toEqual([next.id, null]);
});
