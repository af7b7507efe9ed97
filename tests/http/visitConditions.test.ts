import { beforeAll, expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { importClientBase } from '../../src/actions/importClientBase.js';
import type { Outlet } from '../../src/domain/words.js';
import { bookLine, bookSite, readingsBeforeCleans } from '../setup/bookRows.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const DAY = '2026-10-01';
const LAST_CLEAN = '2026-07-02T14:00:00Z';

const HOUSES = [
  'asked',
  'covered',
  'too dear',
  'always welcome',
  'in time',
  'no terms',
  'creek',
  'permit',
  'unseen outlet',
] as const;
type HouseName = (typeof HOUSES)[number];

const OUTLETS: Partial<Record<HouseName, Outlet>> = {
  creek: 'creek',
  permit: 'ditch',
  'unseen outlet': 'unknown',
};

/** Houses with a discharge and a footing drain, cleaned every 80 days; ochre hardens 91 days after the last clean. */
function book(): ClientBase {
  const base: ClientBase = { sites: [], lines: [], readings: [], crews: [] };
  for (const [i, name] of HOUSES.entries()) {
    base.sites.push(bookSite(i, { siteId: name, longitude: -90.3 + i / 200, basement: 'basement' }));
    for (const kind of ['footing_drain', 'sump_discharge'] as const) {
      const lineId = `${name} ${kind}`;
      const outlet = kind === 'sump_discharge' ? (OUTLETS[name] ?? 'daylight') : 'unknown';
      base.lines.push(bookLine({ lineId, siteId: name, kind, outlet }));
      base.readings.push(...readingsBeforeCleans(lineId, LAST_CLEAN, {}));
    }
  }
  return base;
}

const site = new Map<HouseName, string>();
const siteOf = (name: HouseName): string => site.get(name) ?? '';
async function send(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('owner', { method: 'POST', url, payload });
  expect(answer.status, answer.text).toBe(status);
  return answer.body;
}
const get = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
async function night(day: string): Promise<Json> {
  t.clock.at = new Date(`${day}T07:00:00Z`);
  const started = await send('/v1/nightly-runs', { businessDay: day }, 202);
  await t.work();
  const run = await get(`/v1/nightly-runs/${started.id}`);
  expect(run.state, JSON.stringify(run)).toBe('done');
  return run.steps.find((step: Json) => step.name === 'order').counts;
}
async function orderOf(name: HouseName): Promise<Json> {
  const { items } = await get(`/v1/work-orders?siteId=${siteOf(name)}&sort=number`);
  const ahead = items.filter((order: Json) => order.state !== 'withdrawn');
  return ahead.length === 0 ? null : get(`/v1/work-orders/${ahead.at(-1).id}`);
}
const waitsOf = (order: Json) => order.waitsFor.map((each: Json) => [each.kind, each.state]);
const codesOf = (order: Json) => order.becauseOf.map((each: Json) => each.code);
const terms = (name: HouseName, more: object) =>
  send('/v1/care-terms', { siteId: siteOf(name), fromDay: '2026-01-01', intervalDays: 365, ...more });

let counts: Json;
beforeAll(async () => {
  t = await testHouse(`${DAY}T07:00:00Z`);
  await importClientBase(t.house, { name: 'test' }, { base: book(), source: 'book', asOf: DAY });
  for (const row of (await get('/v1/sites?limit=100')).items) site.set(row.externalRef, row.id);
  await terms('asked', { earlyVisitsPerYear: 0 });
  await terms('covered', { earlyVisitsPerYear: 1, priceMinor: 20_000, earlyPriceCapMinor: 25_000 });
  await terms('too dear', { earlyVisitsPerYear: 1, priceMinor: 20_000, earlyPriceCapMinor: 15_000 });
  await terms('always welcome', { earlyVisitsPerYear: 0 });
  await terms('in time', { intervalDays: 90 });
  const welcome = await t.call('owner', {
    method: 'PATCH',
    url: `/v1/sites/${siteOf('always welcome')}`,
    payload: { earlyVisitsOk: true },
    headers: { 'if-match': '*' },
  });
  expect(welcome.status, welcome.text).toBe(200);
  await t.pool.query("UPDATE line SET discharge_permit_ref = 'P-7' WHERE outlet = 'ditch'");
  counts = await night(DAY);
}, 120_000);

test('a visit before the care terms is asked for, unless standing consent covers its number and its price', async () => {
  const asked = await orderOf('asked');
  expect(waitsOf(asked)).toEqual([['consent', 'open']]);
  // Cleaned on 2 July 2026, promised again a year later; ochre hardens 91 days after the clean.
  expect(asked.waitsFor[0].facts).toMatchObject({ termsDay: '2027-07-02', allowed: 0 });
  expect(codesOf(asked)).toContain('early_visit');
  expect(asked.becauseOf.at(-1).text).toContain('2027-07-02');

  const covered = await orderOf('covered');
  expect([waitsOf(covered), covered.priceMinor]).toEqual([[], 20_000]);
  expect(codesOf(covered)).toContain('early_visit');
  const dear = await orderOf('too dear');
  expect(waitsOf(dear)).toEqual([['consent', 'open']]);
  expect(dear.waitsFor[0].facts.ask).toContain('above the cap');
  for (const name of ['always welcome', 'in time', 'no terms'] as const)
    expect(waitsOf(await orderOf(name)), name).toEqual([]);
  expect(codesOf(await orderOf('always welcome'))).toContain('early_visit');
  for (const name of ['in time', 'no terms'] as const)
    expect(codesOf(await orderOf(name)), name).not.toContain('early_visit');
});

test('flushing toward a creek waits for a plan that says what is to be decided; a permit on record is one', async () => {
  const order = await orderOf('creek');
  expect(waitsOf(order)).toEqual([['discharge_plan', 'open']]);
  expect(order.waitsFor[0].facts.outlets).toContain('creek');
  expect(order.waitsFor[0].facts.decide).toContain('the permit of the authority for the water');
  expect(waitsOf(await orderOf('permit'))).toEqual([]);
  const plan = `/v1/work-orders/${order.id}/discharge-plan`;
  const bare = await send(plan, { receiver: 'water_body' }, 422);
  expect(bare.errors[0].pointer).toBe('#/permitRef');
  await send(plan, { receiver: 'caught', sludgeTo: 'depot' });
  expect(waitsOf(await orderOf('creek'))).toEqual([['discharge_plan', 'met']]);

  // What was decided once holds for the next flush of the system, and says so.
  const { items } = await get(`/v1/lines?siteId=${siteOf('creek')}&kind=sump_discharge`);
  const next = await send('/v1/work-orders', {
    siteId: siteOf('creek'),
    because: 'asked',
    tasks: [{ kind: 'clear_outlet', lineId: items[0].id }],
  });
  expect(next.waitsFor).toMatchObject([
    { kind: 'discharge_plan', state: 'met', facts: { receiver: 'caught' } },
  ]);
});

test('where nobody knows the outlet the standing plan holds, marked assumed, and its crew is asked to find it', async () => {
  const order = await orderOf('unseen outlet');
  const { items } = await get(`/v1/lines?siteId=${siteOf('unseen outlet')}&kind=sump_discharge`);
  const [line] = items;
  expect(waitsOf(order)).toEqual([['discharge_plan', 'met']]);
  expect(order.waitsFor[0].facts).toMatchObject({
    assumed: true,
    receiver: 'own_ground',
    sludgeTo: 'caught at the opening, taken to a place that accepts it',
    because: `outlet unknown: ${line.name}`,
  });
  expect(order.waitsFor[0].facts.place).toContain('away from the house, neighbours, storm drains');
  const asked = await t.pool.query('SELECT question FROM work_order WHERE id = $1', [order.id]);
  expect(asked.rows[0].question).toMatchObject({ fact: 'outlet', lineId: line.id });

  // The owner's own words; a storm drain cannot stand in a plan without a reference.
  const change = (discharge: object) =>
    t.call('owner', {
      method: 'PATCH',
      url: '/v1/settings',
      payload: { discharge },
      headers: { 'if-match': '*' },
    });
  const storm = await change({ receiver: 'storm_drain' });
  expect([storm.status, storm.body.errors[0].pointer]).toEqual([400, '#/discharge/receiver']);
  expect((await change({ receiver: 'caught', place: 'tank of the truck' })).status).toBe(200);
  const byDesk = await send('/v1/work-orders', {
    siteId: siteOf('unseen outlet'),
    because: 'asked',
    tasks: [{ kind: 'clear_outlet', lineId: line.id }],
  });
  expect(byDesk.waitsFor).toMatchObject([
    { kind: 'discharge_plan', state: 'met', facts: { assumed: true, place: 'tank of the truck' } },
  ]);

  // Found on the visit: it ends in a storm sewer, so what is still ahead waits for a reference.
  await send(`/v1/work-orders/${order.id}/answer`, { outlet: 'storm_sewer' }, 200);
  for (const { id } of [order, byDesk]) {
    const [wait] = (await get(`/v1/work-orders/${id}`)).waitsFor;
    expect([wait.kind, wait.state]).toEqual(['discharge_plan', 'open']);
    expect(wait.facts.decide).toContain('leave of who owns the storm drain');
  }

  // The plan that stood is listed with it, nobody writes one by hand, and an outlet told right gives it back.
  const [open] = (await get(`/v1/preconditions?workOrderId=${byDesk.id}`)).items;
  const { before } = open.facts;
  expect(before).toMatchObject({ state: 'met', facts: { place: 'tank of the truck' } });
  const patch = (url: string, payload: object) =>
    t.call('owner', { method: 'PATCH', url, payload, headers: { 'if-match': '*' } });
  const told = (facts: object) => patch(`/v1/preconditions/${open.id}`, { facts });
  for (const forged of ['met', { ...before, met_by: 'nobody' }]) {
    const answer = await told({ ...open.facts, before: forged });
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, '#/facts/before']);
  }
  expect((await told(open.facts)).status).toBe(200);
  expect((await patch(`/v1/lines/${line.id}`, { outlet: 'daylight' })).status).toBe(200);
  expect((await get(`/v1/work-orders/${byDesk.id}`)).waitsFor).toMatchObject([
    { kind: 'discharge_plan', state: 'met', facts: { place: 'tank of the truck' } },
  ]);
});

test('consent nobody answered is raised to a person after the days set, once', async () => {
  const raised = async () =>
    (await t.pool.query("SELECT subject_id FROM event WHERE kind = 'consent_unanswered'")).rows.length;
  expect(counts.consents).toBe(0);
  await night('2026-10-02');
  expect(await raised()).toBe(0);
  expect((await night('2026-10-04')).consents).toBe(2);
  expect((await night('2026-10-05')).consents).toBe(0);
  expect(await raised()).toBe(2);
  expect((await orderOf('asked')).waitsFor[0].facts.escalatedOn).toBe('2026-10-04');
});

test('a refusal withdraws what the night ordered, and no night raises it again while it stands', async () => {
  const before = await orderOf('no terms');
  expect(before.state).not.toBe('withdrawn');
  await send('/v1/decisions', {
    siteId: siteOf('no terms'),
    kind: 'postponement',
    decidedBy: 'A. Sedge',
    decidedOn: '2026-10-05',
    riskTold: '5 % a year',
    untilDay: '2027-01-15',
  });
  const after = await get(`/v1/work-orders/${before.id}`);
  expect([after.state, after.withdrawnBecause]).toEqual(['withdrawn', 'postponement by A. Sedge']);
  await night('2026-10-06');
  expect(await orderOf('no terms')).toBeNull();
}, 60_000);
