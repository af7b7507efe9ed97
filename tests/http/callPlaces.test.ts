import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  // Thursday, 14:00 in Chicago; shifts end at 16:00.
  t = await plannedHouse('2026-10-01T19:00:00Z');
}, 60_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = async (url: string, payload: object): Promise<Json> =>
  (await t.call('dispatcher', { method: 'POST', url, payload })).body;
const onlyHeron = () => t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
const today = { fromDay: THURSDAY, workingDays: 1 };

async function call(kind: string, waterInHouse: string, house: object, name: string): Promise<string> {
  const { workOrder } = await post('/v1/calls', {
    kind,
    caller: { name, phone: '555 0142' },
    newSite: { town: 'Brindle', latitude: 44.58, longitude: -90.3, ...house },
    answers: { waterInHouse },
  });
  // Each fills what is left of the day, so that there is room for one of them.
  await t.pool.query('UPDATE work_order SET minutes = 100, people = 1 WHERE id = $1', [workOrder.id]);
  return workOrder.id;
}
const flood = () => call('water_rising', 'yes', { address: '1 Reed Row', basement: 'finished' }, 'B. Alder');
const alarm = () => call('alarm', 'no', { address: '2 Reed Row', basement: 'none' }, 'C. Sedge');

/** The flood stands on the one crew at work; 14:00 and half of two hours: to be there by 15:00. */
async function floodAboard(): Promise<string> {
  await onlyHeron();
  const id = await flood();
  const { places } = await get(`/v1/work-orders/${id}/places?days=1`);
  await t.place(id, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: places[0].afterWorkOrderId });
  return id;
}

test('water in a finished basement gives way to no alarm in a dry house: not by its places, not by a plan', async () => {
  const flooded = await floodAboard();
  const dry = await alarm();
  const offer = await get(`/v1/work-orders/${dry}/places?days=1`);
  expect(offer.places).toEqual([]);
  // Alarms are answered within four hours: 18:00.
  expect(offer.nowhere).toMatchObject({ code: 'no_crew_in_time' });
  expect(offer.nowhere.text).toMatch(/^no crew can be there by 18:00 .*phone C\. Sedge, 555 0142$/);
  const plan = await t.plan(today);
  expect(plan.changes.items.filter((each: Json) => each.kind === 'dropped')).toEqual([]);
  expect(plan.unplaced[0]).toMatchObject({ workOrderId: dry, code: 'no_crew_in_time' });
  expect(plan.toPhone).toMatchObject([
    {
      workOrderId: dry,
      promised: null,
      respondBy: '2026-10-01T23:00:00.000Z',
      contacts: [{ name: 'C. Sedge', role: 'caller', phone: '555 0142' }, ...[]],
    },
  ]);
  await t.accept(plan.id);
  expect((await t.live(THURSDAY)).map(({ workOrderId }) => workOrderId)).toEqual([flooded]);
});

test('an alarm that gives way to a flood is named with its time and its caller, in places, days and the placement', async () => {
  await onlyHeron();
  const dry = await alarm();
  await t.place(dry, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  const flooded = await flood();
  const [place] = (await get(`/v1/work-orders/${flooded}/places?days=1`)).places;
  expect(place.displaces).toMatchObject([
    {
      workOrderId: dry,
      cause: 'call',
      respondBy: '2026-10-01T23:00:00.000Z',
      call: 'alarm, no water in the house; somebody must be there by 18:00',
    },
  ]);
  const warning = {
    code: 'call_gives_way',
    text: expect.stringMatching(
      /^order 1, 2 Reed Row, gives way: alarm, .*18:00\. .*phone C\. Sedge, 555 0142$/,
    ),
  };
  expect(place.consequence.warnings[0]).toMatchObject(warning);
  const { days } = await get(`/v1/work-orders/${flooded}/days?workingDays=1`);
  expect(days[0].text).toContain(
    'order 1 gives way (alarm, no water in the house; somebody must be there by 18:00)',
  );
  const placed = await t.place(flooded, {
    crewId: place.crewId,
    day: place.day,
    afterWorkOrderId: place.afterWorkOrderId,
    displaces: [dry],
  });
  expect(placed.body.warnings[0]).toMatchObject(warning);
  expect(placed.body.toPhone).toMatchObject([
    {
      workOrderId: dry,
      contacts: [{ role: 'caller', phone: '555 0142' }],
      because: expect.stringContaining('gave way'),
    },
  ]);
});

test('the crew with the flood aboard breaks down: first in the answer, whom to phone and by when nobody can be there', async () => {
  const flooded = await floodAboard();
  const reported = await post('/v1/disruptions', { kind: 'crew_broken_down', crewId: t.crews.heron });
  expect(reported.toPhone).toMatchObject([{ workOrderId: flooded, planned: null, promised: null }]);
  await t.work();
  const plan = await get(`/v1/plans/${reported.plan.id}`);
  expect(plan.warnings[0]).toMatchObject({ code: 'call_not_answered', facts: { workOrderId: flooded } });
  expect(plan.unplaced[0].text).toMatch(/no crew can be there by 15:00.*phone B\. Alder, 555 0142/);
  expect(plan.toPhone[0]).toMatchObject({ workOrderId: flooded, contacts: [{ phone: '555 0142' }] });
});

test('a call nobody makes in time is told who could be there soonest', async () => {
  await onlyHeron();
  const far = await call(
    'water_rising',
    'yes',
    { address: '3 Reed Row', longitude: -89.2, basement: 'finished' },
    'D',
  );
  await t.pool.query('UPDATE work_order SET minutes = 10 WHERE id = $1', [far]);
  // 1.1° of longitude at 44.6° are 87 km, × 1.3 at 50 km/h 2 h 16: at 16:16, after 15:00, and back after 18:00.
  await t.pool.query(`UPDATE shift SET ends_at = '18:30' WHERE crew_id = $1`, [t.crews.heron]);
  const { places, nowhere } = await get(`/v1/work-orders/${far}/places?days=1`);
  expect(places).toEqual([]);
  expect(nowhere.text).toMatch(/; the soonest is Heron at 16:1\d; phone D, 555 0142$/);
  const plan = await t.plan(today);
  expect(plan.unplaced[0]).toMatchObject({ cheapestPlace: { crewId: t.crews.heron, displaces: [] } });
});

test('every place offered, also while a crew is behind, can be taken as it stands', async () => {
  const orders: string[] = [];
  for (const east of [1, 2, 3]) {
    const id = await t.order({ east, north: 8, minutes: 90 });
    // The third does not fit any more before 17:00.
    await t.place(id, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: orders.at(-1) ?? null });
    orders.push(id);
  }
  const dry = await alarm();
  t.clock.at = new Date('2026-10-01T19:17:00Z');
  const { places, warnings } = await get(`/v1/work-orders/${dry}/places?days=2`);
  expect(warnings.map(({ code }: Json) => code)).toContain('crew_behind');
  expect(places.length).toBeGreaterThan(0);
  const offered = [
    ...places.map((each: Json) => ({
      ...each,
      displaces: each.displaces.map((one: Json) => one.workOrderId),
    })),
    ...(await get(`/v1/work-orders/${dry}/days?workingDays=2`)).days
      .filter((each: Json) => each.place)
      .map((each: Json) => ({
        ...each.place,
        day: each.day,
        displaces: each.place.displaces.map((one: Json) => one.workOrderId),
      })),
  ];
  for (const { crewId, day, afterWorkOrderId, displaces, from } of offered) {
    // Nobody is told a time that has gone by: it is 14:17.
    if (day === THURSDAY && from !== undefined) expect(from >= '14:17').toBe(true);
    const tried = await t.place(dry, { crewId, day, afterWorkOrderId, displaces, tryOnly: true });
    expect([tried.status, tried.body.consequences?.[0].late]).toEqual([200, []]);
    // The late crew is offered with what it cannot reach giving way, and not without.
    if (crewId === t.crews.heron) expect(displaces.length).toBeGreaterThan(0);
  }
});
