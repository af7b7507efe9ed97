import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';
import { TWO_DAYS_NOTICE } from '../setup/workedHouse.js';

/** No way into the ground but a ticket on record, in force, answered, after its notice. */
let t: TestHouse;
let dig: Json;
let rule: Json;

type Who = 'owner' | 'dispatcher' | 'technician';
async function ask(who: Who, method: 'GET' | 'POST' | 'PATCH', url: string, payload?: object): Promise<Json> {
  const headers = method === 'PATCH' ? { 'if-match': '*' } : {};
  return t.call(who, { method, url, ...(payload ? { payload } : {}), headers });
}
async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await ask('owner', 'POST', url, payload);
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
function at(instant: string): string {
  t.clock.at = new Date(instant);
  return instant;
}
async function precondition(kind: string): Promise<Json> {
  const { body } = await ask('owner', 'GET', `/v1/preconditions?workOrderId=${dig.id}&kind=${kind}`);
  return body.items[0];
}
async function change(who: Who, kind: string, payload: object): Promise<[number, string | undefined]> {
  const answer = await ask(who, 'PATCH', `/v1/preconditions/${(await precondition(kind)).id}`, payload);
  return [answer.status, answer.body.errors?.[0].pointer];
}
const call = (calledAt: string, more: object = {}, status = 201) =>
  post(
    `/v1/work-orders/${dig.id}/locate-tickets`,
    { ruleId: rule.id, calledAt, utilities: ['gas'], ...more },
    status,
  );
const news = (ticket: Json, payload: object, status = 200) =>
  post(`/v1/locate-tickets/${ticket.id}/news`, payload, status);
const start = (startedAt: string, status: number) =>
  post(`/v1/work-orders/${dig.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status);

beforeAll(async () => {
  t = await testHouse('2026-06-01T12:00:00Z');
  const site = await post('/v1/sites', { address: '3 Sluice Row', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    outlet: 'creek',
  });
  dig = await post('/v1/work-orders', {
    siteId: site.id,
    because: 'crushed',
    tasks: [{ kind: 'replace_outlet', lineId: line.id }],
  });
  await t.pool.query(
    "INSERT INTO precondition (id, work_order_id, kind) VALUES (gen_random_uuid(), $1, 'discharge_plan')",
    [dig.id],
  );
  rule = await post('/v1/locate-rules', {
    name: 'Hours',
    ...TWO_DAYS_NOTICE,
  });
}, 60_000);

test('a ticket and a discharge plan are not met by hand, a ticket is never waived, others only by the owner with a reason', async () => {
  for (const who of ['owner', 'dispatcher'] as const) {
    expect(await change(who, 'locate_ticket', { state: 'met' })).toEqual([422, '#/state']);
    expect(await change(who, 'locate_ticket', { state: 'waived' })).toEqual([422, '#/state']);
    expect(await change(who, 'locate_ticket', { validTo: '2027-01-01' })).toEqual([422, '#/validTo']);
    expect(await change(who, 'discharge_plan', { state: 'met' })).toEqual([422, '#/state']);
  }
  const made = await ask('dispatcher', 'POST', '/v1/preconditions', {
    workOrderId: dig.id,
    kind: 'locate_ticket',
    state: 'met',
  });
  expect(made.status).toBe(422);
  const waiver = { state: 'waived', facts: { because: 'in the van', waivedBy: 'Owner' } };
  expect(await change('dispatcher', 'parts', waiver)).toEqual([422, '#/state']);
  expect(await change('owner', 'parts', { state: 'waived' })).toEqual([422, '#/facts']);
  expect((await change('owner', 'parts', waiver))[0]).toBe(200);
  const facts = { lines: 'x', notToExceedMinor: -5, acceptedBy: 'A. Sedge', acceptedAt: 'never' };
  expect(await change('owner', 'quote_accepted', { state: 'met', facts })).toEqual([
    422,
    '#/facts/notToExceedMinor',
  ]);
  const right = { ...facts, notToExceedMinor: 5000, acceptedAt: '2026-06-01T11:00:00Z' };
  expect((await change('owner', 'quote_accepted', { state: 'met', facts: right }))[0]).toBe(200);
  await post(`/v1/work-orders/${dig.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });
});

test('met in the database without a ticket on record still does not open the ground', async () => {
  await t.pool.query("UPDATE precondition SET state = 'met' WHERE work_order_id = $1", [dig.id]);
  const refused = await start('2026-06-01T12:30:00Z', 422);
  expect(refused.errors[0].detail).toContain('no locate ticket is on record');
  await t.pool.query(
    "UPDATE precondition SET state = 'open' WHERE work_order_id = $1 AND kind = 'locate_ticket'",
    [dig.id],
  );
});

test('a call is of now, names each utility once, and news lie between it and now', async () => {
  at('2026-06-01T15:00:00Z');
  const pointer = async (calledAt: string, more: object = {}) =>
    (await call(calledAt, more, 422)).errors[0].pointer;
  expect(await pointer('2026-06-01T14:00:00Z', { utilities: ['gas', 'Gas '] })).toBe('#/utilities/1');
  expect(await pointer('2026-05-01T14:00:00Z')).toBe('#/calledAt'); // its 14 days are over
  expect(await pointer('2024-06-01T14:00:00Z')).toBe('#/calledAt');
  const first = await call('2026-06-01T14:00:00Z');
  const wrong = async (payload: object) => (await news(first, payload, 422)).errors[0].pointer;
  expect(await wrong({ marksSeenAt: '2026-05-30T14:00:00Z' })).toBe('#/marksSeenAt');
  expect(await wrong({ privateLinesLocatedAt: '2026-06-05T14:00:00Z' })).toBe('#/privateLinesLocatedAt');
  expect(await wrong({ answers: [{ utility: 'gas', answer: 'clear', at: '2026-05-30T14:00:00Z' }] })).toBe(
    '#/answers/0/at',
  );
});

test('only whoever works on the site brings news of its ticket; a replaced ticket takes none', async () => {
  const { body } = await ask('owner', 'GET', `/v1/work-orders/${dig.id}/locate-tickets`);
  const [first] = body.items;
  at('2026-06-01T16:00:00Z');
  const cleared = {
    answers: [{ utility: 'gas', answer: 'clear', at: '2026-06-01T15:30:00Z' }],
    privateLinesLocatedAt: '2026-06-01T15:30:00Z',
  };
  const foreign = await ask('technician', 'POST', `/v1/locate-tickets/${first.id}/news`, cleared);
  expect([403, 404]).toContain(foreign.status);
  const second = await call('2026-06-01T15:00:00Z', { number: 'B' });
  expect((await news(first, cleared, 422)).errors[0].remedy).toContain(second.id);
  expect((await precondition('locate_ticket')).state).toBe('open');
  expect((await call('2026-06-01T14:30:00Z', {}, 422)).errors[0].pointer).toBe('#/calledAt');
  await news(second, cleared);
  expect(await precondition('locate_ticket')).toMatchObject({ state: 'met', facts: { number: 'B' } });
});

test('the notice runs to its hour: a start earlier that day is refused', async () => {
  // Called on 1 June at 15:00, 48 hours
  const early = await start('2026-06-03T14:30:00Z', 422);
  expect([early.errors[0].pointer, early.errors[0].remedy]).toEqual([
    '#/startedAt',
    expect.stringContaining('2026-06-03T15:00:00'),
  ]);
  await start('2026-06-03T15:30:00Z', 200);
});

test('a dig at a house in its builder’s warranty waits for notice to the builder too', async () => {
  const kindsAt = async (builtOn: string): Promise<string[]> => {
    const site = await post('/v1/sites', {
      address: `Built ${builtOn}`,
      town: 'Brindle',
      builder: 'Marram Homes',
      builtOn,
    });
    const system = await post('/v1/systems', { siteId: site.id, name: 'Yard', kind: 'gravity' });
    const line = await post('/v1/lines', {
      siteId: site.id,
      systemId: system.id,
      name: 'Yard',
      kind: 'yard_drain',
      outlet: 'daylight',
    });
    const made = await post('/v1/work-orders', {
      siteId: site.id,
      because: 'crushed',
      tasks: [{ kind: 'dig_and_replace', lineId: line.id }],
    });
    return made.waitsFor.map((each: Json) => each.kind).sort();
  };
  const always = ['discharge_plan', 'locate_ticket', 'parts', 'quote_accepted'];
  // Two years of warranty (common practice); the day is 3 June 2026.
  expect(await kindsAt('2025-06-01')).toEqual(['builder_notice', ...always].sort());
  expect(await kindsAt('2020-06-01')).toEqual(always);
});
