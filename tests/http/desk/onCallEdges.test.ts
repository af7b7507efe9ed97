import { beforeEach, expect, test } from 'vitest';
import { type OnCallHouse, onCallHouse } from '../../setup/onCallHouse.js';
import { FRIDAY, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: OnCallHouse;
beforeEach(async () => {
  t = await onCallHouse();
}, 60_000);

const codes = (items: Json[]) => items.map(({ code }) => code);
const warningsOf = (offer: Json): string =>
  offer.consequence.warnings.map(({ text }: Json) => text).join(' | ');

/** A call that stands on Plover's shift of Friday, and then goes to whoever is on call instead. */
async function movedToNight(): Promise<{ order: Json; stood: Json; moved: Json }> {
  const { workOrder: order } = await t.phoned();
  const day = await t.place(order.id, { crewId: t.crews.plover, day: FRIDAY, afterWorkOrderId: null });
  expect(day.status, day.text).toBe(200);
  await t.post(`/v1/days/${FRIDAY}/publication`);
  const [stood] = await shiftsOn(FRIDAY);
  const [offer] = (await t.places(order.id)).places;
  const { status, body, text } = await t.goes(order.id, offer);
  expect(status, text).toBe(200);
  expect((await t.nights(THURSDAY)).length).toBe(1);
  expect(await t.live(FRIDAY)).toEqual([]);
  return { order, stood, moved: body };
}

const shiftsOn = async (day: string): Promise<Json[]> =>
  (await t.get(`/v1/routes?day=${day}`)).items.filter((route: Json) => !route.onCall);

test('a move from a shift to the night is undone: the order has its old place again, and the crew hears of it', async () => {
  const { order, stood, moved } = await movedToNight();
  const undone = await t.post(`/v1/plans/${moved.planId}/undoing`);
  expect(undone.displaced).toEqual([]);
  expect(codes(undone.warnings)).not.toContain('old_place_gone');
  expect(await t.nights(THURSDAY)).toEqual([]);
  expect(await t.live(FRIDAY)).toEqual([{ crewId: t.crews.plover, workOrderId: order.id }]);
  const [route] = await shiftsOn(FRIDAY);
  expect(route.stops).toMatchObject([{ startsAt: stood.stops[0].startsAt, workOrder: { id: order.id } }]);
  // Told of the visit before, and that it is gone, and that it is back: nothing is left to tell.
  expect(route.changesSincePublished).toEqual([]);
  expect((await t.get(`/v1/work-orders/${order.id}`)).state).toBe('placed');
}, 60_000);

test('where its old route was changed since, it waits, and the answer says why', async () => {
  const { order, moved } = await movedToNight();
  const other = await t.order({ north: 3, minutes: 60 });
  const placed = await t.place(other, { crewId: t.crews.plover, day: FRIDAY, afterWorkOrderId: null });
  expect(placed.status, placed.text).toBe(200);
  const undone = await t.post(`/v1/plans/${moved.planId}/undoing`);
  expect(undone.displaced).toEqual([order.id]);
  expect(undone.warnings).toContainEqual(
    expect.objectContaining({ code: 'old_place_gone', facts: { workOrderId: order.id, day: FRIDAY } }),
  );
  expect((await t.get(`/v1/work-orders/${order.id}`)).state).toBe('wanted');
}, 60_000);

test('pictures show who is out on call, beside the shifts', async () => {
  await t.sent();
  const svg = await t.call('dispatcher', { method: 'GET', url: `/v1/routes.svg?day=${THURSDAY}` });
  expect(svg.text).toMatch(/Heron.{0,9}, on call/u);
  const map = await t.call('dispatcher', { method: 'GET', url: `/v1/routes.geojson?day=${THURSDAY}` });
  const lines = JSON.parse(map.text).features.filter(({ properties }: Json) => properties.kind === 'route');
  expect(lines.map(({ properties }: Json) => [properties.crewName, properties.onCall])).toEqual([
    ['Heron', true],
  ]);
});

test('a turn that ends while the crew is out: who is out goes on, and whoever is next is offered too', async () => {
  await t.pool.query('DELETE FROM on_call_turn');
  const reed = await t.member('Reed', '555 0172', t.crews.plover);
  // Tern until 22:00 on Thursday, Reed of Plover after that.
  await t.turn(t.tern, '2026-10-01T21:00:00Z', '2026-10-02T03:00:00Z');
  await t.turn(reed, '2026-10-02T03:00:00Z', '2026-10-02T12:30:00Z');
  const { order } = await t.sent();
  await t.pool.query('UPDATE work_order SET minutes = 240 WHERE id = $1', [order.id]);
  const phone = await t.phone(t.tern);
  t.at('2026-10-02T02:15:00Z');
  await phone('POST', `/v1/work-orders/${order.id}/start`, {
    startedAt: '2026-10-02T02:15:00Z',
    cautionsSeen: true,
  });
  t.at('2026-10-02T03:10:00Z'); // 22:10: the turn is over, the crew is out.
  const next = await t.phoned('water_rising', 7);
  expect(next.whoGoes.people.map(({ name }: Json) => name)).toContain('Reed');
  const { places } = await t.places(next.workOrder.id);
  const offered = places.filter(({ onCall }: Json) => onCall);
  expect(offered.map(({ crewName }: Json) => crewName).sort()).toEqual(['Heron', 'Plover']);
  const heron = offered.find(({ crewName }: Json) => crewName === 'Heron');
  expect(heron.consequence.onCall.people).toMatchObject([{ name: 'Tern', turn: null, calledOut: true }]);
  const plover = offered.find(({ crewName }: Json) => crewName === 'Plover');
  expect(plover.consequence.onCall.people).toMatchObject([{ name: 'Reed', turn: 1, calledOut: false }]);
  // Two must go, and one of each crew is at hand: the answer says who, and that nobody plans the two as one.
  expect(warningsOf(plover)).toMatch(
    /2 must go.*Reed \(555 0172\) is on call.*of other crews Tern \(555 0170\) of Heron is on call or called out and may come along: one party of two crews is not planned/,
  );
}, 60_000);

/**
 * Chicago's clocks: forward on Sunday 8 March 2026 at 2:00 (CST, UTC−6, to CDT, UTC−5), back on Sunday 1 November 2026
 * at 2:00. A crew out over it is out for as long as clocks in UTC say.
 */
test.each([
  ['2026-11-01', '2026-11-01T05:30:00Z', '2026-11-02T13:30:00.000Z'],
  ['2026-03-08', '2026-03-08T07:30:00Z', '2026-03-09T12:30:00.000Z'],
])(
  'out over a change of clocks, on %s: hours, overtime and rest are those that pass',
  async (day, now, shift) => {
    t.at(now);
    await t.pool.query('DELETE FROM on_call_turn');
    await t.turn(t.tern, `${day}T00:00:00Z`, `${day}T23:00:00Z`);
    const { workOrder: order } = await t.phoned();
    // Five hours: the change at 8:00 in March, at 7:00 in November, lies in the visit.
    await t.pool.query('UPDATE work_order SET minutes = 300 WHERE id = $1', [order.id]);
    const [offer] = (await t.places(order.id)).places;
    expect(offer).toMatchObject({ crewName: 'Heron', onCall: true, day });
    const { after, onCall } = offer.consequence;
    const driveSeconds = (Date.parse(offer.startsAt) - Date.parse(now)) / 1000;
    const backMs = Date.parse(now) + 1000 * (2 * driveSeconds + 300 * 60);
    expect(onCall.backAt).toBe(new Date(backMs).toISOString());
    expect(after.overtimeSeconds).toBe(2 * driveSeconds + 300 * 60);
    // Monday 7:30: 13:30 UTC in winter, 12:30 in summer; rested long before.
    expect(onCall.nextShift).toMatchObject({
      startsAt: shift,
      becomesAt: shift,
      restSeconds: (Date.parse(shift) - backMs) / 1000,
    });
    const placed = await t.goes(order.id, offer);
    expect(placed.status, placed.text).toBe(200);
    const [route] = await t.nights(day);
    expect(route).toMatchObject({ leavesAt: new Date(now).toISOString(), returnsAt: onCall.backAt });
    const [stop] = route.stops;
    expect(Date.parse(stop.endsAt) - Date.parse(stop.startsAt)).toBe(300 * 60_000);
  },
  60_000,
);
