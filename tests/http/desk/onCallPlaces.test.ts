import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type OnCallHouse, onCallHouse } from '../../setup/onCallHouse.js';
import { FRIDAY, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: OnCallHouse;
beforeEach(async () => {
  t = await onCallHouse();
}, 60_000);

const codes = (items: Json[]) => items.map(({ code }) => code);
const texts = (items: Json[]) => items.map(({ text }) => text).join(' | ');
const SUNDAY = '2026-10-04';
const MONDAY = '2026-10-05';

test('at night the crew on call stands first: when it is there, what it costs, whom to phone, what its rest becomes', async () => {
  const { workOrder: order, whoGoes } = await t.phoned();
  expect(whoGoes).toMatchObject({ kind: 'on_call', people: [{ name: 'Tern' }] });
  const { places, nowhere } = await t.places(order.id);
  expect(nowhere).toBeNull();
  const [first, ...rest] = places;
  expect(rest.every((each: Json) => !each.onCall)).toBe(true);
  expect(first).toMatchObject({ crewName: 'Heron', day: THURSDAY, onCall: true, afterWorkOrderId: null });
  const { after, onCall, warnings, late } = first.consequence;
  expect([after.leavesAt, after.stops, late]).toEqual(['2026-10-02T02:00:00.000Z', 1, []]);
  // The house lies two hundredths of a degree, 2.2 km, from the yard.
  const drive = (Date.parse(first.startsAt) - Date.parse('2026-10-02T02:00:00Z')) / 1000;
  expect(drive).toBeGreaterThan(60);
  expect(drive).toBeLessThan(900);
  // All of it is overtime: there, the work, and home again.
  expect(after.overtimeSeconds).toBe(2 * drive + 60 * order.minutes);
  expect(after.overtimeCostMinor).toBeGreaterThan(0);
  const back = Date.parse('2026-10-02T02:00:00Z') + 1000 * after.overtimeSeconds;
  expect(onCall).toEqual({
    people: [{ memberId: t.tern, name: 'Tern', phone: '555 0170', turn: 1, calledOut: false }],
    peopleNeeded: 2,
    backAt: new Date(back).toISOString(),
    nextShift: {
      day: FRIDAY,
      startsAt: '2026-10-02T12:30:00.000Z',
      restSeconds: (Date.parse('2026-10-02T12:30:00Z') - back) / 1000,
      wantedRestSeconds: 36_000,
      // Ten hours after it is back.
      becomesAt: new Date(Math.max(back + 36_000_000, Date.parse('2026-10-02T12:30:00Z'))).toISOString(),
      before: [],
    },
  });
  expect(codes(warnings).slice(0, 2)).toEqual(['too_few_on_call', 'overtime']);
  expect(texts(warnings)).toMatch(
    /2 must go .*Tern \(555 0170\) is on call; phone a second person \(of Heron: Rail \(555 0171\)\)/,
  );
}, 60_000);

test('rest that is broken: the next shift begins later, and what stands before it is named', async () => {
  const tomorrow = await t.order({ north: 9, minutes: 60 });
  await t.place(tomorrow, { crewId: t.crews.heron, day: FRIDAY, afterWorkOrderId: null });
  t.at('2026-10-02T08:00:00Z'); // Friday 3:00
  const { order, offer, placed } = await t.sent();
  expect(offer).toMatchObject({ crewName: 'Heron', day: FRIDAY });
  const { nextShift, backAt } = offer.consequence.onCall;
  expect(nextShift).toMatchObject({
    day: FRIDAY,
    becomesAt: new Date(Date.parse(backAt) + 36_000_000).toISOString(),
    before: [{ workOrderId: tomorrow }],
  });
  const [said] = placed.warnings.filter(({ code }: Json) => code === 'rest_too_short');
  expect(said.text).toMatch(
    /^Heron: .* of rest before its next shift at 0?7:30, 10 h.* are wanted: it begins at 1\d:\d\d instead; order \d+ stands before then/,
  );
  // The day of the shift stands as it did, later; the night has a route of its own.
  const friday = await t.heronOn(FRIDAY);
  expect(friday.restsUntil).toBe(nextShift.becomesAt);
  expect(friday).toMatchObject({ route: { visits: 1 }, onCallRoutes: [{ visits: 1, state: 'published' }] });
  const { hinderedVisits } = await t.get(`/v1/days/${FRIDAY}`);
  expect(hinderedVisits).toMatchObject([{ workOrderId: tomorrow, reasons: [{ code: 'crew_rests' }] }]);
  expect((await t.get(`/v1/work-orders/${order.id}`)).state).toBe('placed');
  // Plans for the shifts leave the night alone and keep to the rest.
  const { id } = await t.plan({ fromDay: FRIDAY, workingDays: 1 });
  expect((await t.accept(id)).status).toBe(200);
  const [night] = await t.nights(FRIDAY);
  expect(night.stops).toMatchObject([{ workOrder: { id: order.id } }]);
  const day = (await t.get(`/v1/routes?day=${FRIDAY}`)).items.filter((route: Json) => !route.onCall);
  const visit = day.flatMap(({ crewName, stops }: Json) =>
    stops.flatMap((stop: Json) => (stop.workOrder?.id === tomorrow ? [[crewName, stop.startsAt]] : [])),
  );
  expect(visit).toHaveLength(1);
  if (visit[0][0] === 'Heron') expect(visit[0][1] >= nextShift.becomesAt).toBe(true);
}, 60_000);

test('two calls in one night: the second follows the first, or goes after the crew is home again', async () => {
  const first = await t.sent();
  t.at('2026-10-02T02:20:00Z');
  const second = await t.sent('water_rising', 7);
  expect(second.offer).toMatchObject({ crewName: 'Heron', day: THURSDAY });
  expect(second.offer.consequence.before).toMatchObject({ stops: 1 });
  const [both, ...more] = await t.nights(THURSDAY);
  expect(more).toEqual([]);
  const visits = both.stops.map(({ workOrder }: Json) => workOrder.id);
  expect(visits.sort()).toEqual([first.order.id, second.order.id].sort());
  expect(both.changesSincePublished).toEqual([]);
  // Overtime counts from the first call on.
  expect(both.overtimeSeconds).toBe((Date.parse(both.returnsAt) - Date.parse('2026-10-02T02:00:00Z')) / 1000);
  // Out on both at 3:00: a third call is added to the evening's route although a new day has begun.
  await t.pool.query(`UPDATE work_order SET minutes = 240 WHERE id = $1`, [second.order.id]);
  t.at('2026-10-02T05:10:00Z');
  const third = await t.phoned('water_rising', 9);
  const { places } = await t.places(third.workOrder.id);
  expect(places[0]).toMatchObject({ onCall: true, day: THURSDAY });
  const answer = await t.goes(third.workOrder.id, places[0]);
  expect(answer.status, JSON.stringify(answer.body)).toBe(200);
  expect((await t.nights(FRIDAY)).map(({ day }) => day)).toEqual([THURSDAY]);
}, 60_000);

test('on a Sunday and on a holiday nobody has a shift: who is on call comes', async () => {
  await t.house.stores.rows.insert('holiday', { id: randomUUID(), day: FRIDAY, name: 'Founders’ Day' });
  for (const now of ['2026-10-02T15:00:00Z', '2026-10-04T15:00:00Z']) {
    t.at(now);
    const { order, offer } = await t.sent('alarm', 7);
    expect(offer).toMatchObject({ crewName: 'Heron', onCall: true, day: now.slice(0, 10) });
    const [route] = await t.nights(now.slice(0, 10));
    expect(route.stops).toMatchObject([{ workOrder: { id: order.id, hindrances: [] } }]);
    // Rested by Monday morning: the shift stays.
    const { nextShift } = offer.consequence.onCall;
    expect(nextShift).toMatchObject({ day: MONDAY, becomesAt: nextShift.startsAt });
    expect(codes(offer.consequence.warnings)).not.toContain('rest_too_short');
  }
  expect((await t.get(`/v1/days/${SUNDAY}`)).totals).toMatchObject({ visits: 1 });
}, 60_000);

test('a pump that the crew on call lacks is said, with who has one; too far to be in time is said', async () => {
  const pump = randomUUID();
  const { rows } = t.house.stores;
  await rows.insert('kit_item', { id: pump, name: 'Trash pump', kind: 'pump' });
  const carried = { id: randomUUID(), kit_item_id: pump, from_day: '2026-01-01' };
  await rows.insert('crew_kit', { ...carried, crew_id: t.crews.curlew });
  // 2.5 degrees north: hours away.
  const { workOrder } = await t.phoned('water_rising', 250);
  const [offer] = (await t.places(workOrder.id)).places;
  const { warnings, late } = offer.consequence;
  expect(texts(warnings)).toMatch(
    /Heron has no pump on board for order \d+, 250 Reed Row, and no other crew on call has one: Curlew \(South yard\) carries one to fetch/,
  );
  expect(codes(warnings)).toContain('late_start');
  expect(late).toMatchObject([{ workOrderId: workOrder.id, promised: false }]);
}, 60_000);
