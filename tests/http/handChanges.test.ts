import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const call = (method: 'GET' | 'POST' | 'PUT', url: string, payload?: object) =>
  t.call('dispatcher', { method, url, ...(payload ? { payload } : {}) });
const onlyHeron = () => t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
/** Work begins at 8:10. */
const begin = async (id: string) => {
  t.clock.at = new Date('2026-10-01T13:10:00Z');
  const started = { startedAt: '2026-10-01T13:10:00Z', cautionsSeen: true };
  expect((await call('POST', `/v1/work-orders/${id}/start`, started)).status).toBe(200);
};
const fault = ({ status, body }: Json) => [status, body.errors?.[0]?.pointer, body.errors?.[0]?.detail];

test('a crew on the road past its shift is sent next door, takes calls, and can break down', async () => {
  await onlyHeron();
  const long = await t.order({ north: 8, minutes: 480 });
  await t.place(long, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  await begin(long);
  // 16:10: the shift ended at 16:00; eight hours and the break of half an hour bring it home towards 17:00.
  t.clock.at = new Date('2026-10-01T21:10:00Z');
  const next = await t.order({
    north: 8,
    minutes: 20,
    row: { respond_by: '2026-10-01T23:00:00Z', cause: 'call' },
  });
  const { places } = (await call('GET', `/v1/work-orders/${next}/places?days=1`)).body;
  expect(places).toMatchObject([{ crewId: t.crews.heron, day: THURSDAY }]);
  expect(places[0].startsAt < '2026-10-01T21:30:00Z').toBe(true);
  const taken = await call('POST', '/v1/calls', {
    kind: 'alarm',
    caller: { name: 'B' },
    newSite: { address: '1 Reed Row', town: 'Brindle' },
  });
  expect(taken.body.whoGoes).toMatchObject({ kind: 'crew_on_shift', crews: [{ id: t.crews.heron }] });
  const broken = await call('POST', '/v1/disruptions', { kind: 'crew_broken_down', crewId: t.crews.heron });
  expect(broken.status).toBe(202);
  expect((await call('GET', `/v1/work-orders/${next}/places?days=1`)).body.places).toEqual([]);
});

test('a crew that is back is gone, whatever its route had planned', async () => {
  await onlyHeron();
  const short = await t.order({ north: 8, minutes: 60 });
  await t.place(short, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  await begin(short);
  await t.pool.query(`UPDATE work_order SET state = 'done', done_at = now() WHERE id = $1`, [short]);
  t.clock.at = new Date('2026-10-01T21:10:00Z');
  const late = await call('POST', '/v1/disruptions', { kind: 'crew_broken_down', crewId: t.crews.heron });
  expect(fault(late)).toEqual([422, '#/day', 'the shift of Heron on 2026-10-01 is over']);
});

test('a client put off to a later day does not freeze the route she still stands on', async () => {
  const [put, other] = [await t.order({ east: 1, north: 8 }), await t.order({ east: 2, north: 8 })];
  await t.place(put, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  await t.place(other, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: put });
  await t.promise(put, '2026-10-09');
  const moved = await t.place(other, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  expect(moved.status).toBe(200);
  expect(moved.body.warnings).toMatchObject([
    {
      code: 'stands_out_of_place',
      facts: { workOrderId: put, promisedDay: '2026-10-09' },
      text: 'order 1, 1 Marsh Gate, stands on this route although its client was told 2026-10-09',
    },
  ]);
  expect((await t.live(THURSDAY)).map(({ workOrderId }) => workOrderId)).toEqual([other, put]);
  // So too for what waits, and what its house is closed to since.
  await t.pool.query('DELETE FROM promise');
  await t.house.stores.rows.insert('precondition', {
    id: randomUUID(),
    work_order_id: put,
    kind: 'consent',
  });
  await t.pool.query(
    `UPDATE site SET hours = '[{"weekday":"mon","from":"08:00","to":"12:00"}]' WHERE id = (SELECT site_id FROM work_order WHERE id = $1)`,
    [put],
  );
  const again = await t.place(other, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: put });
  expect([again.status, again.body.warnings?.[0]?.text]).toEqual([
    200,
    'order 1, 1 Marsh Gate, stands on this route although it waits for consent',
  ]);
  // What must not be placed is not: the order itself.
  expect((await t.place(put, { crewId: t.crews.plover, day: THURSDAY, afterWorkOrderId: null })).status).toBe(
    422,
  );
});

test('a promise or lock nobody can keep is refused when it is said', async () => {
  const hours = [
    { weekday: 'tue', from: '08:00', to: '12:00' },
    { weekday: 'thu', from: '08:00', to: '12:00' },
  ];
  const jet = await t.order({ kit: ['jetter'], people: 2, hours });
  const promise = async (more: object) =>
    fault(await call('POST', '/v1/promises', { workOrderId: jet, day: THURSDAY, ...more }));
  const open = 'the house is open tue 08:00–12:00, thu 08:00–12:00 only';
  expect(await promise({ day: '2026-10-04' })).toEqual([422, '#/day', 'no crew works on 2026-10-04']);
  expect(await promise({ fromTime: '15:00', toTime: '16:00' })).toEqual([422, '#/fromTime', open]);
  expect(await promise({ day: '2026-10-02' })).toEqual([422, '#/day', open]);
  expect((await promise({ fromTime: '09:00', toTime: '11:00' }))[0]).toBe(201);
  const night = await t.order();
  expect(
    fault(
      await call('POST', '/v1/promises', {
        workOrderId: night,
        day: THURSDAY,
        fromTime: '19:00',
        toTime: '21:00',
      }),
    ),
  ).toEqual([422, '#/fromTime', 'no crew works then on 2026-10-01']);

  await t.pool.query('UPDATE crew SET people = 1 WHERE id = $1', [t.crews.plover]);
  await t.pool.query('DELETE FROM crew_kit WHERE crew_id = $1', [t.crews.curlew]);
  const lock = async (ask: object) => fault(await call('PUT', `/v1/work-orders/${jet}/lock`, ask));
  expect(await lock({ crewId: t.crews.plover })).toEqual([
    422,
    '#/crewId',
    'the order takes 2 people, Plover is 1 on 2026-10-01',
  ]);
  await t.pool.query(`UPDATE kit_item SET depot_id = $1 WHERE kind = 'jetter'`, [t.depots.north]);
  expect(await lock({ crewId: t.crews.curlew, day: THURSDAY })).toEqual([
    422,
    '#/crewId',
    'Curlew has no jetter on 2026-10-01',
  ]);
  expect(await lock({ day: THURSDAY, from: '15:00', to: '16:00' })).toEqual([422, '#/from', open]);
  expect((await lock({ crewId: t.crews.heron, day: THURSDAY, from: '09:00', to: '10:00' }))[0]).toBe(200);
});

test('work without a place says what it gave way to and where it could go now, also what waits', async () => {
  const stands = await t.order({ north: 8 });
  await t.place(stands, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  const other = await t.order({ north: 8 });
  await t.place(other, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: null,
    displaces: [stands],
  });
  const waits = await t.order({ north: 9 });
  await t.house.stores.rows.insert('precondition', {
    id: randomUUID(),
    work_order_id: waits,
    kind: 'consent',
  });
  const { items } = (await call('GET', '/v1/unplaced-work')).body;
  const of = (id: string) => items.find((each: Json) => each.workOrderId === id);
  expect(of(stands).because).toMatchObject([
    { code: 'gave_way', text: 'gave way to order 2, placed by hand (dispatcher)' },
  ]);
  // Next to the one that took its place: no way is longer for it.
  expect(of(stands).cheapestPlace).toMatchObject({ crewId: t.crews.heron, day: THURSDAY, displaces: [] });
  expect(of(waits)).toMatchObject({
    because: [{ code: 'waits_for_precondition' }],
    cheapestPlace: { day: THURSDAY, crewName: expect.stringMatching(/Heron|Plover/) },
  });
});
