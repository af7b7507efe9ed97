import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
let tern: string;
beforeEach(async () => {
  // Thursday, 9:00 in Chicago: crews are at work from 7:30 to 16:00.
  t = await plannedHouse('2026-10-01T14:00:00Z');
  tern = randomUUID();
  const { rows } = t.house.stores;
  await rows.insert('member', { id: tern, name: 'Tern', phone: '555 0170' });
  await rows.insert('crew_membership', {
    id: randomUUID(),
    crew_id: t.crews.heron,
    member_id: tern,
    from_day: '2026-01-01',
  });
}, 60_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });
const newHouse = { address: '12 Marsh Gate', town: 'Brindle' };
const onCall = (from: string, to: string, memberId = tern) =>
  post('/v1/on-call-turns', { memberId, fromAt: from, toAt: to });

test('water rises in a house nobody knows: client, site, order with a time to be there, and what to say', async () => {
  const { status, body } = await post('/v1/calls', {
    kind: 'alarm',
    what: 'the pit is full',
    caller: { name: 'B. Alder', phone: '(555) 010-0123' },
    newSite: { ...newHouse, basement: 'finished' },
    answers: { waterInHouse: 'yes', waterNearElectricity: 'yes' },
  });
  expect(status).toBe(201);
  expect(body).toMatchObject({ treatedAs: 'water_rising', site: { onMap: false } });
  // Water rising 120 minutes, a finished basement halves it: 9:00 and an hour.
  expect(body.call).toMatchObject({ urgency: 'at_once', respondBy: '2026-10-01T15:00:00.000Z' });
  expect(body.workOrder).toMatchObject({
    cause: 'call',
    state: 'wanted',
    respondBy: '2026-10-01T15:00:00.000Z',
    wantedBy: THURSDAY,
    people: 2,
  });
  expect(body.workOrder.tasks.map((task: Json) => task.kind)).toEqual(['test_pump', 'inspect']);
  // No kit is asked for: who can be there first goes.
  expect(body.workOrder).toMatchObject({ kit: [], note: expect.stringContaining('second pump') });
  expect(body.workOrder.becauseOf.map(({ code }: Json) => code)).toContain('water_near_electricity');
  expect(body.whoGoes).toMatchObject({ kind: 'crew_on_shift', outOfHours: false });
  expect(body.whoGoes.crews.map(({ name }: Json) => name)).toEqual(['Curlew', 'Heron', 'Plover']);
  expect(body.sheet.sayFirst[0].text).toMatch(/^Do not enter the water/);
  expect(body.warnings).toMatchObject([{ code: 'site_off_map' }]);
  const cautions = await get(`/v1/work-orders/${body.workOrder.id}/cautions`);
  expect(cautions.items.map(({ code }: Json) => code)).toContain('flooded_basement');
  // The order can be placed although nobody knows where the house stands.
  expect((await get(`/v1/work-orders/${body.workOrder.id}/places`)).places.length).toBeGreaterThan(0);
  expect((await get('/v1/sites-off-map')).items).toMatchObject([
    { address: '12 Marsh Gate', plannedAt: { middleOf: 'the depot' }, orders: [{ state: 'wanted' }] },
  ]);
  // The caller is found by phone in another writing.
  const found = await get(`/v1/search?q=${encodeURIComponent('+1 555 010 0123')}`);
  expect(found.items.map(({ type }: Json) => type)).toEqual(['client', 'contact', 'site', 'order']);
  expect((await get(`/v1/calls?siteId=${body.site.id}`)).items).toMatchObject([{ id: body.call.id }]);
});

test('a known caller is told from a new one; a second call of the house is added to its order', async () => {
  const first = await post('/v1/calls', {
    kind: 'alarm',
    caller: { name: 'B. Alder', phone: '555 0123 456' },
    newSite: newHouse,
  });
  const again = await post('/v1/calls', {
    kind: 'pump_without_flow',
    caller: { phone: '555-0123-456' },
    siteId: first.body.site.id,
  });
  expect(again.body).toMatchObject({ addedToOpenOrder: true, workOrder: { id: first.body.workOrder.id } });
  expect(again.body.workOrder.tasks.map((task: Json) => task.kind)).toEqual(['test_pump', 'inspect']);
  const other = await post('/v1/calls', {
    kind: 'orange_stain',
    caller: { name: 'Bo Alder', phone: '5550123456' },
    newSite: { address: '14 Marsh Gate', town: 'Brindle' },
  });
  expect(other.body.warnings.map(({ code }: Json) => code)).toContain('caller_known');
  expect(other.body).toMatchObject({ whoGoes: { kind: 'routes' }, call: { urgency: 'in_days' } });
});

test('a smell of gas: nobody is sent before the place is safe', async () => {
  const { body } = await post('/v1/calls', {
    kind: 'water_rising',
    caller: { name: 'B. Alder' },
    newSite: newHouse,
    answers: { smellOfGas: 'yes' },
  });
  expect(body.workOrder.waitsFor).toMatchObject([{ kind: 'made_safe', state: 'open' }]);
});

test('out of hours who is on call goes, next in turn when the first is out; nobody is told as nobody', async () => {
  t.clock.at = new Date('2026-10-02T03:00:00Z'); // Thursday 22:00
  const rising = { kind: 'water_rising', caller: { name: 'B. Alder' } };
  const call = async (address: string) =>
    (await post('/v1/calls', { ...rising, newSite: { address, town: 'Brindle' } })).body;
  expect((await call('1 Reed Row')).whoGoes).toMatchObject({ kind: 'nobody', people: [], outOfHours: true });
  expect((await onCall('2026-10-01T21:00:00Z', '2026-10-02T12:30:00Z')).status).toBe(201);
  const taken = await call('2 Reed Row');
  expect(taken.whoGoes).toMatchObject({ kind: 'on_call', people: [{ name: 'Tern', phone: '555 0170' }] });
  expect(taken.warnings).toMatchObject([{ code: 'too_few_on_call' }, { code: 'site_off_map' }]);
  expect(taken.workOrder.people).toBe(2);
  const out = await post('/v1/call-outs', {
    memberId: tern,
    workOrderId: taken.workOrder.id,
    calledAt: '2026-10-02T03:05:00Z',
  });
  expect(out.status).toBe(201);
  const ahead = await post('/v1/call-outs', { memberId: tern, calledAt: '2026-10-09T03:05:00Z' });
  expect(ahead.body.errors).toMatchObject([{ pointer: '#/calledAt' }]);
  expect((await call('3 Reed Row')).whoGoes.kind).toBe('nobody');
  // An alarm at 5:00 has until 9:00: the shift at 7:30 comes in time.
  t.clock.at = new Date('2026-10-02T10:00:00Z');
  const alarm = await post('/v1/calls', {
    kind: 'alarm',
    caller: { name: 'C' },
    newSite: { address: '4 Reed Row', town: 'Brindle' },
  });
  expect(alarm.body.whoGoes.kind).toBe('next_shift');
});

test('who was out at night rests: the crew starts later, and plans keep to it', async () => {
  const order = await t.order({ east: 1, north: 8, minutes: 60 });
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  t.clock.at = new Date('2026-10-02T08:00:00Z'); // Friday 3:00
  const out = await post('/v1/call-outs', {
    memberId: tern,
    calledAt: '2026-10-02T05:00:00Z',
    backAt: '2026-10-02T07:00:00Z',
  });
  expect(out.status).toBe(201);
  // Back at 2:00; ten hours of rest end at noon, 17:00 UTC.
  const { crews } = await get(`/v1/days/${FRIDAY}`);
  expect(crews.find((crew: Json) => crew.crewId === t.crews.heron)).toMatchObject({
    works: true,
    restsUntil: '2026-10-02T17:00:00.000Z',
  });
  await t.accept((await t.plan({ fromDay: FRIDAY, workingDays: 1 })).id);
  const { rows } = await t.pool.query(
    `SELECT r.leaves_at, s.starts_at FROM stop s JOIN route r ON r.id = s.route_id WHERE s.work_order_id = $1 AND s.live`,
    [order],
  );
  expect(String(rows[0]?.['leaves_at'])).toBe('2026-10-02T17:00:00.000Z');
  // Back so late that the rest outlasts the shift: one of two is away.
  await t.pool.query(`UPDATE call_out SET back_at = '2026-10-02T11:30:00Z'`);
  const after = (await get(`/v1/days/${FRIDAY}`)).crews.find((crew: Json) => crew.crewId === t.crews.heron);
  expect(after).toMatchObject({ works: true, people: 1, restsUntil: null });
});

test('the rota tells its gaps, and refuses the same person twice at once', async () => {
  // Thursday 16:00 to Friday 7:30, local time.
  await onCall('2026-10-01T21:00:00Z', '2026-10-02T12:30:00Z');
  const { gaps, turns } = await get(`/v1/rota?from=${THURSDAY}&to=${FRIDAY}`);
  expect(turns).toMatchObject([{ memberName: 'Tern', crewName: 'Heron' }]);
  expect(gaps).toEqual([
    // Midnight (5:00 UTC) to 7:30 before, and Friday 16:00 to midnight.
    { from: '2026-10-01T05:00:00.000Z', to: '2026-10-01T12:30:00.000Z', hours: 7.5 },
    { from: '2026-10-02T21:00:00.000Z', to: '2026-10-03T05:00:00.000Z', hours: 8 },
  ]);
  const double = await onCall('2026-10-02T00:00:00Z', '2026-10-02T02:00:00Z');
  expect(double).toMatchObject({ status: 409, body: { errors: [{ pointer: '#/fromAt' }] } });
  expect((await onCall('2026-10-03T00:00:00Z', '2026-10-03T00:00:00Z')).status).toBe(422);
});

test('a call that makes no sense is refused by field', async () => {
  const refused = async (payload: object) => {
    const { status, body } = await post('/v1/calls', payload);
    return [status, body.errors?.[0]?.pointer];
  };
  expect(await refused({ kind: 'alarm' })).toEqual([422, '#/siteId']);
  expect(await refused({ kind: 'alarm', newSite: newHouse })).toEqual([422, '#/caller/name']);
  expect(await refused({ kind: 'alarm', siteId: randomUUID() })).toEqual([422, '#/siteId']);
  expect(
    await refused({ kind: 'alarm', caller: { name: 'B' }, newSite: { ...newHouse, latitude: 44 } }),
  ).toEqual([422, '#/newSite/longitude']);
  expect(
    await refused({
      kind: 'alarm',
      caller: { name: 'B' },
      newSite: newHouse,
      receivedAt: '2026-09-01T00:00:00Z',
    }),
  ).toEqual([422, '#/receivedAt']);
  expect((await refused({ kind: 'flood' }))[0]).toBe(400);
});

test('the sheet of each kind is there before anything is known', async () => {
  for (const kind of ['water_rising', 'alarm', 'pump_without_flow', 'power_out', 'orange_stain', 'other']) {
    const sheet = await get(`/v1/phone-sheets/${kind}`);
    expect(sheet.sayFirst.length, kind).toBeGreaterThan(0);
    expect(JSON.stringify(sheet.never), kind).toMatch(/reach into the pit/);
  }
});
