import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const DONE = {
  result: 'done',
  flowProven: 'yes',
  pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
  water: { receiver: 'caught' },
};

async function ask(
  method: 'GET' | 'POST' | 'PATCH' | 'DELETE',
  url: string,
  payload?: object,
  status?: number,
): Promise<Json> {
  const answer = await t.call('owner', {
    method,
    url,
    ...(payload ? { payload } : {}),
    headers: method === 'PATCH' || method === 'DELETE' ? { 'if-match': '*' } : {},
  });
  expect(answer.status, `${method} ${url} ${answer.text}`).toBe(status ?? (method === 'POST' ? 201 : 200));
  return answer.body;
}
const post = (url: string, payload: object, status?: number) => ask('POST', url, payload, status);
const get = (url: string) => ask('GET', url);
const fieldsOf = (body: Json): string[] => body.errors.map((fault: Json) => fault.pointer);
function at(instant: string): string {
  t.clock.at = new Date(instant);
  return instant;
}

let serial = 0;
async function house(section: object) {
  const site = await post('/v1/sites', { address: `${++serial} Osier Lane`, town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Drain',
    kind: 'footing_drain',
    length: { value: 30, unit: 'm' },
  });
  const laid = await post('/v1/line-sections', { lineId: line.id, ...section });
  return { site, system, line, laid };
}
const poured = (lineId: string) =>
  post('/v1/inspections', {
    lineId,
    observedAt: at('2026-06-01T14:00:00Z'),
    phase: 'no_cleaning',
    reading: { method: 'poured_flow', flow: { value: 20, unit: 'gpm' }, backsUp: true },
  });
const occlusionOf = async (id: string) => (await get(`/v1/inspections/${id}`)).occlusion;

beforeAll(async () => {
  t = await testHouse('2026-05-29T12:00:00Z');
});

test('the owner changes the bore and roughness of a product: sections and readings follow, and go back', async () => {
  const { items } = await get('/v1/pipes?units=us');
  const sdr = items.find((pipe: Json) => pipe.product === 'sdr_35');
  // ASTM D3034: 4.215 in outside, .120 in wall
  expect(sdr.sizes[0].bore.value).toBeCloseTo(3.975, 9);
  expect([sdr.sizes[0].nominal, sdr.sizes[0].changed, sdr.manningN, sdr.version]).toEqual([
    '4',
    false,
    0.01,
    0,
  ]);

  const make = { product: 'sdr_35', nominal: '4', slope: { value: 0.5, unit: '%' } };
  const own = await house(make);
  expect(own.laid.bore.value).toBeCloseTo(100.965, 9);
  const measured = await house({ ...make, bore: { value: 98, unit: 'mm' } });
  const reading = await poured(own.line.id);
  const change = {
    bores: { '4': { value: 3.9, unit: 'in' } },
    manningN: 0.013,
    source: 'ten cut ends measured',
  };
  const bare = await t.call('owner', { method: 'PATCH', url: '/v1/pipes/sdr_35', payload: change });
  expect(bare.status).toBe(428);
  const changed = await ask('PATCH', '/v1/pipes/sdr_35', change);
  expect(changed).toMatchObject({ manningN: 0.013, source: 'ten cut ends measured', version: 1 });
  expect(changed.readingsChanged).toBe(1);
  expect((await get(`/v1/lines/${own.line.id}`)).mainBore.value).toBeCloseTo(99.06, 9);
  expect((await get(`/v1/lines/${measured.line.id}`)).mainBore.value).toBe(98);
  // A rougher, narrower line backs up at less deposit.
  expect(await occlusionOf(reading.id)).toBeLessThan(reading.occlusion - 0.02);
  const answer = await post(
    '/v1/calculations/gravity-flow',
    { pipe: { product: 'sdr_35', nominal: '4' }, slope: { value: 1, unit: '%' } },
    200,
  );
  expect([answer.manningN, answer.bore.value]).toEqual([0.013, 99.06]);
  const fresh = await house(make);
  expect(fresh.laid.bore.value).toBeCloseTo(99.06, 9);

  const reset = await ask('DELETE', '/v1/pipes/sdr_35');
  expect([reset.version, reset.manningN]).toEqual([0, 0.01]);
  expect((await get(`/v1/lines/${own.line.id}`)).mainBore.value).toBeCloseTo(100.965, 9);
  expect(await occlusionOf(reading.id)).toBe(reading.occlusion);
});

test('a pipe change is refused where its size, dimension or reason is wrong', async () => {
  const refused = (payload: object, status: number) => ask('PATCH', '/v1/pipes/sdr_35', payload, status);
  const size = await refused({ bores: { '5': { value: 5, unit: 'in' } }, source: 'x' }, 422);
  expect(size.errors[0].remedy).toContain('4, 6');
  const flow = await refused({ bores: { '4': { value: 4, unit: 'gpm' } }, source: 'x' }, 400);
  expect(fieldsOf(flow)[0]).toContain('#/bores/4');
  const inches = await refused({ bores: { '4': { value: 39, unit: 'in' } }, source: 'x' }, 422);
  expect(inches.errors[0]).toMatchObject({ pointer: '#/bores/4' });
  // 4 in SDR-35: 3.975 in, a fifth either way
  expect(inches.errors[0].remedy).toContain('(3.18 in) to');
  expect(fieldsOf(await refused({ manningN: 0.013 }, 400))).toEqual(['#/source']);
  expect(fieldsOf(await refused({ manningN: 13, source: 'x' }, 400))).toEqual(['#/manningN']);
});

test.each([
  ['length', { value: 30, unit: 'm' }, { value: 98.4251969, unit: 'ft' }],
  ['lift', { value: 9, unit: 'ft' }, { value: 9, unit: 'ft' }],
])(
  'a %s given in either system is answered in both, and refused in another dimension',
  async (field, given, us) => {
    const { line } = await house({ material: 'pvc' });
    await ask('PATCH', `/v1/lines/${line.id}`, { [field]: given });
    expect((await get(`/v1/lines/${line.id}?units=us`))[field]).toEqual(us);
    const wrong = await ask('PATCH', `/v1/lines/${line.id}`, { [field]: { value: 9, unit: 'psi' } }, 400);
    expect(fieldsOf(wrong)[0]).toContain(`#/${field}`);
  },
);

test('a pump put in later is a known change of regime of its discharge; one from before the books is none', async () => {
  const { site, system, line } = await house({ material: 'pvc', bore: { value: 40, unit: 'mm' } });
  const pit = await post('/v1/pits', { siteId: site.id, systemId: system.id, dischargeLineId: line.id });
  const changes = async () => (await get(`/v1/regime-changes?lineId=${line.id}`)).items;
  await post('/v1/pumps', { pitId: pit.id, installedOn: '2019-04-01' });
  expect(await changes()).toEqual([]);
  await post('/v1/inspections', {
    lineId: line.id,
    observedAt: '2026-05-01T14:00:00Z',
    phase: 'no_cleaning',
    reading: { method: 'camera', share: 0.2 },
  });
  const pump = await post('/v1/pumps', { pitId: pit.id, installedOn: '2026-05-12' });
  expect(await changes()).toMatchObject([{ cause: 'new_pump', changedOn: '2026-05-12' }]);
  await ask('PATCH', `/v1/pumps/${pump.id}`, { installedOn: '2026-05-14' });
  expect(await changes()).toMatchObject([{ cause: 'new_pump', changedOn: '2026-05-14' }]);
  await post('/v1/pumps', { pitId: pit.id, duty: 'backup', installedOn: '2026-05-15' });
  expect(await changes()).toHaveLength(1);
});

/** An emergency ticket with all answers in for the first and what follows it; what else they wait for is waived. */
async function clearedToDig(orders: Json[], calledAt: string): Promise<void> {
  at(calledAt);
  const rule = await post('/v1/locate-rules', {
    name: `At once ${++serial}`,
    notice: 3,
    noticeUnit: 'business_day',
    holidays: ['2026-07-03', '2026-11-26'],
    source: 'test',
    confirmedBy: 'Owner',
    confirmedOn: calledAt.slice(0, 10),
  });
  for (const order of orders) {
    await t.pool.query(
      "UPDATE precondition SET state = 'waived' WHERE work_order_id = $1 AND kind <> 'locate_ticket'",
      [order.id],
    );
    const ticket = await post(`/v1/work-orders/${order.id}/locate-tickets`, {
      ruleId: rule.id,
      calledAt,
      emergencyBecause: 'water in the house',
      utilities: ['gas'],
    });
    const news = {
      answers: [{ utility: 'gas', answer: 'clear', at: calledAt }],
      privateLinesLocatedAt: calledAt,
    };
    await post(`/v1/locate-tickets/${ticket.id}/news`, news, 200);
  }
}

test('ground opened round a line without replacing it is a known change of regime too', async () => {
  const { site, line } = await house({ material: 'clay' });
  const order = await post('/v1/work-orders', {
    siteId: site.id,
    because: 'out of reach',
    tasks: [{ kind: 'add_cleanout', lineId: line.id }],
  });
  await clearedToDig([order], '2026-06-02T12:00:00Z');
  await post(`/v1/work-orders/${order.id}/trench-checks`, {
    checkedAt: at('2026-06-02T13:00:00Z'),
    checkedBy: 'Heron',
    depth: { value: 1, unit: 'm' },
    protection: 'none',
  });
  await post(
    `/v1/work-orders/${order.id}/start`,
    { startedAt: at('2026-06-02T14:00:00Z'), cautionsSeen: true },
    200,
  );
  await post(`/v1/work-orders/${order.id}/finish`, { endedAt: at('2026-06-02T17:00:00Z'), ...DONE }, 200);
  expect((await get(`/v1/regime-changes?lineId=${line.id}`)).items).toMatchObject([
    { cause: 'excavation', changedOn: '2026-06-02', note: `order ${order.number}` },
  ]);
});

/** Three orders, each after the other: two parts of a dig and its restoration six weeks on. */
async function dig() {
  const home = await house({ material: 'clay' });
  const order = (kind: string, followsId: string | null, followsAfterDays: number) =>
    post('/v1/work-orders', {
      siteId: home.site.id,
      because: 'dig',
      tasks: [{ kind, lineId: home.line.id }],
      followsId,
      followsAfterDays,
    });
  const first = await order('dig_and_replace', null, 0);
  const second = await order('add_cleanout', first.id, 1);
  const third = await order('restore', second.id, 42);
  return { first, second, third };
}
const stateOf = async (order: Json) => (await get(`/v1/work-orders/${order.id}`)).state;

test('withdrawing one part of a dig takes what follows with it, or keeps it behind what came before', async () => {
  const all = await dig();
  const gone = await post(`/v1/work-orders/${all.first.id}/withdrawal`, { because: 'sold' }, 200);
  expect(gone.followed).toEqual([
    { id: all.second.id, number: all.second.number, state: 'withdrawn' },
    { id: all.third.id, number: all.third.number, state: 'withdrawn' },
  ]);
  expect(await stateOf(all.third)).toBe('withdrawn');

  const kept = await dig();
  const answer = await post(
    `/v1/work-orders/${kept.second.id}/withdrawal`,
    { because: 'not needed', following: 'keep' },
    200,
  );
  expect(answer.followed).toEqual([{ id: kept.third.id, number: kept.third.number, state: 'wanted' }]);
  expect(await get(`/v1/work-orders/${kept.third.id}`)).toMatchObject({ followsId: kept.first.id });
  const { rows } = await t.pool.query("SELECT facts FROM event WHERE kind = 'order_follows_no_more'");
  expect(rows).toEqual([{ facts: { orderNumber: kept.third.number, withdrawnNumber: kept.second.number } }]);
});

test('work begins only after what it follows, so many calendar days later', async () => {
  const { first, second, third } = await dig();
  // An emergency's ticket is good until the day after its call.
  await clearedToDig([first, second, third], '2026-06-05T12:00:00Z');
  const check = (order: Json, checkedAt: string) =>
    post(`/v1/work-orders/${order.id}/trench-checks`, {
      checkedAt: at(checkedAt),
      checkedBy: 'Heron',
      depth: { value: 1, unit: 'm' },
      protection: 'none',
    });
  const start = (order: Json, startedAt: string, status = 200) =>
    post(`/v1/work-orders/${order.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status);
  const finish = (order: Json, endedAt: string) =>
    post(`/v1/work-orders/${order.id}/finish`, { endedAt: at(endedAt), ...DONE, replaced: [] }, 200);
  await check(second, '2026-06-05T13:00:00Z');
  const early = await start(second, '2026-06-05T14:00:00Z', 422);
  expect(early.errors[0].detail).toContain(`order ${first.number}, which comes first, is wanted`);
  await check(first, '2026-06-05T13:30:00Z');
  await start(first, '2026-06-05T14:00:00Z');
  await finish(first, '2026-06-05T20:00:00Z');
  // A Friday; the next calendar day is a Saturday, and will do.
  expect((await start(second, '2026-06-05T21:00:00Z', 422)).errors[0].remedy).toContain('2026-06-06');
  await check(second, '2026-06-06T13:00:00Z');
  await start(second, '2026-06-06T14:00:00Z');
  await finish(second, '2026-06-06T15:00:00Z');
  // 6 June and 42 days: 18 July
  expect((await start(third, '2026-07-17T14:00:00Z', 422)).errors[0].remedy).toContain('2026-07-18');
  await start(third, '2026-07-18T14:00:00Z');
});

test('a ticket whose law says when to begin is void after that day, and good to its end once work began', async () => {
  const { first } = await dig();
  await t.pool.query(
    "UPDATE precondition SET state = 'waived' WHERE work_order_id = $1 AND kind <> 'locate_ticket'",
    [first.id],
  );
  const rule = await post('/v1/locate-rules', {
    name: 'Minnesota, with a life',
    notice: 48,
    noticeUnit: 'business_hour',
    life: 30,
    lifeUnit: 'calendar_day',
    holidays: ['2026-07-03', '2026-11-26'],
    startWithinDays: 14,
    source: 'Minn. Stat. 216D.04 subd. 1; life: test',
    confirmedBy: 'Owner',
    confirmedOn: '2026-06-01',
  });
  const ticket = await post(`/v1/work-orders/${first.id}/locate-tickets`, {
    ruleId: rule.id,
    calledAt: at('2026-08-03T15:00:00Z'),
    utilities: ['gas'],
  });
  // called on Monday 3 August: begin by the 17th, good to 2 September
  expect([ticket.beginBy, ticket.lastDay]).toEqual(['2026-08-17', '2026-09-02']);
  at('2026-08-04T16:00:00Z');
  await post(
    `/v1/locate-tickets/${ticket.id}/news`,
    {
      answers: [{ utility: 'gas', answer: 'clear', at: '2026-08-04T15:00:00Z' }],
      privateLinesLocatedAt: '2026-08-04T16:00:00Z',
    },
    200,
  );
  const validTo = async () =>
    (await get(`/v1/work-orders/${first.id}`)).waitsFor.find((each: Json) => each.kind === 'locate_ticket')
      .validTo;
  expect(await validTo()).toBe('2026-08-17');
  const begin = async (day: string, status: number) => {
    await post(`/v1/work-orders/${first.id}/trench-checks`, {
      checkedAt: at(`${day}T13:00:00Z`),
      checkedBy: 'Heron',
      protection: 'shored',
      depth: { value: 1, unit: 'm' },
    });
    return post(
      `/v1/work-orders/${first.id}/start`,
      { startedAt: at(`${day}T14:00:00Z`), cautionsSeen: true },
      status,
    );
  };
  expect((await begin('2026-08-18', 422)).errors[0].detail).toContain('ended on 2026-08-17');
  await begin('2026-08-17', 200);
  expect(await validTo()).toBe('2026-09-02');
});
