import { beforeEach, expect, test } from 'vitest';
import { type OnCallHouse, onCallHouse } from '../../setup/onCallHouse.js';
import { FRIDAY, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: OnCallHouse;
beforeEach(async () => {
  t = await onCallHouse();
}, 60_000);

const sheetOf = (routeId: string) =>
  t.call('dispatcher', {
    method: 'GET',
    url: `/v1/routes/${routeId}/sheet`,
    headers: { accept: 'text/html' },
  });

test('placed: the crew is told at once, hears of it, works on it past midnight; the day closes with it', async () => {
  const phone = await t.phone(t.tern);
  const { next } = (await phone('GET', '/v1/changes')).body;
  const { order, offer } = await t.sent();
  const [route] = await t.nights(THURSDAY);
  expect(route).toMatchObject({
    crewName: 'Heron',
    publishedAt: '2026-10-02T02:00:00.000Z',
    changesSincePublished: [],
    stops: [{ startsAt: offer.startsAt, workOrder: { id: order.id, hindrances: [] } }],
  });
  expect(route.overtimeSeconds).toBe(offer.consequence.after.overtimeSeconds);
  const sheet = await sheetOf(route.id);
  expect([sheet.status, sheet.text.includes('8 Reed Row'), sheet.text.includes('On call')]).toEqual([
    200,
    true,
    true,
  ]);
  const heard = (await phone('GET', `/v1/changes?since=${next}&limit=500`)).body.items;
  const routes = heard.filter(({ resource }: Json) => resource === 'route');
  expect([...new Set(routes.map(({ id }: Json) => id))]).toEqual([route.id]);

  t.at('2026-10-02T05:30:00Z'); // Friday 0:30
  expect((await phone('GET', `/v1/routes?day=${FRIDAY}`)).body.items).toMatchObject([]);
  const start = { startedAt: '2026-10-02T05:30:00Z', cautionsSeen: true };
  const started = await phone('POST', `/v1/work-orders/${order.id}/start`, start);
  expect(started.status, JSON.stringify(started.body)).toBeLessThan(300);
  t.at('2026-10-02T07:00:00Z');
  const finished = await phone('POST', `/v1/work-orders/${order.id}/finish`, {
    endedAt: '2026-10-02T06:00:00Z',
    result: 'done',
    flowProven: 'yes',
    pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
    water: { receiver: 'caught', sludgeTo: 'depot' },
  });
  expect(finished.status, JSON.stringify(finished.body)).toBeLessThan(300);
  // Done at 1:00 and driven home: ten hours later the shift begins.
  const rested = Date.parse((await t.heronOn(FRIDAY)).restsUntil) - Date.parse('2026-10-02T06:00:00Z');
  expect(rested).toBeGreaterThan(36_000_000);
  expect(rested).toBeLessThan(37_000_000);
  // What is written down of coming home counts more.
  await t.post('/v1/call-outs', {
    memberId: t.tern,
    workOrderId: order.id,
    calledAt: '2026-10-02T02:00:00Z',
    backAt: '2026-10-02T07:00:00Z',
  });
  expect((await t.heronOn(FRIDAY)).restsUntil).toBe('2026-10-02T17:00:00.000Z');

  const { route: shift, onCallRoutes } = await t.heronOn(THURSDAY);
  expect(shift).toBeNull();
  expect(onCallRoutes).toMatchObject([{ id: route.id, visits: 1, done: 1, ahead: 0 }]);
  const closed = await t.post(`/v1/days/${THURSDAY}/closing`);
  expect(closed.items).toMatchObject([{ routeId: route.id, done: 1, notDone: [] }]);
  // A day that was closed takes another call: on a route of its own.
  t.at('2026-10-03T02:00:00Z');
  await t.sent('water_rising', 7);
  await t.post(`/v1/days/${FRIDAY}/closing`);
  t.at('2026-10-03T03:00:00Z');
  await t.sent('water_rising', 6);
  expect((await t.heronOn(FRIDAY)).onCallRoutes.map(({ state }: Json) => state).sort()).toEqual([
    'closed',
    'published',
  ]);
}, 90_000);

test('undone, withdrawn or moved into a shift it is gone again, and with it the rest', async () => {
  t.at('2026-10-02T08:00:00Z'); // Friday 3:00
  const gone = async () => {
    expect(await t.nights(FRIDAY)).toEqual([]);
    const heron = await t.heronOn(FRIDAY);
    expect([heron.restsUntil, heron.onCallRoutes]).toEqual([null, []]);
  };
  const { order, placed } = await t.sent();
  expect((await t.heronOn(FRIDAY)).restsUntil).not.toBeNull();
  const [route] = await t.nights(FRIDAY);
  const phone = await t.phone(t.tern);
  const { next } = (await phone('GET', '/v1/changes')).body;
  await t.post(`/v1/plans/${placed.planId}/undoing`);
  await gone();
  expect((await t.get(`/v1/work-orders/${order.id}`)).state).toBe('wanted');
  const { items } = (await phone('GET', `/v1/changes?since=${next}&limit=500`)).body;
  const routes = items.filter(({ resource }: Json) => resource === 'route');
  expect(routes).toContainEqual(expect.objectContaining({ id: route.id, op: 'removed' }));

  const again = await t.goes(order.id, (await t.places(order.id)).places[0]);
  expect(again.status).toBe(200);
  const { version } = await t.get(`/v1/work-orders/${order.id}`);
  const withdrawn = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${order.id}/withdrawal`,
    headers: { 'if-match': `"${version}"` },
    payload: { because: 'the water went down' },
  });
  expect(withdrawn.status, withdrawn.text).toBeLessThan(300);
  await gone();

  const other = await t.sent('alarm', 6);
  const moved = await t.place(other.order.id, {
    crewId: t.crews.plover,
    day: FRIDAY,
    afterWorkOrderId: null,
  });
  expect(moved.status, JSON.stringify(moved.body)).toBe(200);
  await gone();
}, 60_000);

test('what makes no sense is refused by field', async () => {
  const ordinary = await t.order({ north: 8 });
  const refused = async (orderId: string, more: object = {}) => {
    const { status, body } = await t.goes(
      orderId,
      { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null },
      more,
    );
    return [status, body.errors?.[0]?.pointer];
  };
  expect(await refused(ordinary)).toEqual([422, '#/onCall']);
  const stain = (await t.phoned('orange_stain', 5)).workOrder.id;
  expect(await refused(stain)).toEqual([422, '#/onCall']);
  expect((await t.places(stain)).places.some(({ onCall }: Json) => onCall)).toBe(false);
  const { workOrder } = await t.phoned();
  expect(await refused(workOrder.id, { crewId: t.crews.plover })).toEqual([422, '#/crewId']);
  expect(await refused(workOrder.id, { day: '2026-09-29' })).toEqual([422, '#/day']);
  expect(await refused(workOrder.id, { day: '2026-10-03' })).toEqual([422, '#/crewId']);
  expect(await refused(workOrder.id, { afterWorkOrderId: ordinary })).toEqual([422, '#/afterWorkOrderId']);
  expect(await refused(workOrder.id, { onCall: 'yes' })).toEqual([400, '#/onCall']);
  // A try changes nothing.
  expect((await refused(workOrder.id, { tryOnly: true }))[0]).toBe(200);
  expect(await t.nights(THURSDAY)).toEqual([]);
  // Nobody on call: no such place, and the reason.
  await t.pool.query('DELETE FROM on_call_turn');
  const { places, nowhere } = await t.places(workOrder.id);
  expect(places.some(({ onCall }: Json) => onCall)).toBe(false);
  expect(nowhere).toMatchObject({ code: 'no_crew_in_time' });
  // Called out without a turn counts as much.
  await t.post('/v1/call-outs', { memberId: t.rail, calledAt: '2026-10-02T02:00:00Z' });
  const [first] = (await t.places(workOrder.id)).places;
  expect(first).toMatchObject({
    onCall: true,
    consequence: { onCall: { people: [{ name: 'Rail', calledOut: true }] } },
  });
}, 60_000);
