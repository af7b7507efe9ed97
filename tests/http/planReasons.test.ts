import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const today = { fromDay: THURSDAY, workingDays: 1 };
const byHand = (id: string, crewId: string, afterWorkOrderId: string | null = null) =>
  t.place(id, { crewId, day: THURSDAY, afterWorkOrderId });
const whys = (plan: Json) =>
  Object.fromEntries(plan.changes.items.map((item: Json) => [item.workOrderId, item.why]));

test('a crew that is away forces its stops elsewhere; what makes room for them follows', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id = $1', [t.crews.curlew]);
  const lost = await t.order({ north: 8, hours: [{ weekday: 'thu', from: '07:30', to: '08:00' }] });
  const moved = await t.order({ north: 8, east: 1 });
  await byHand(lost, t.crews.heron);
  await byHand(moved, t.crews.plover);
  const { body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/disruptions',
    payload: { kind: 'crew_sick', crewId: t.crews.heron, day: THURSDAY, note: 'flu' },
  });
  await t.work();
  const plan = (await t.call('dispatcher', { method: 'GET', url: `/v1/plans/${body.plan.id}` })).body;
  expect(whys(plan)).toEqual({
    [lost]: {
      kind: 'forced',
      workOrderIds: [],
      saving: null,
      text: `forced: Heron is away on ${THURSDAY} (flu)`,
    },
    [moved]: { kind: 'follows', workOrderIds: [lost], saving: null, text: 'follows the change of order 1' },
  });
});

test('what nothing forces says what it saves, in driving, overtime and waiting', async () => {
  // A house by the south yard, driven to from the north: 22 km there and back are some 57 minutes at least.
  const far = await t.order({ north: -10 });
  await byHand(far, t.crews.heron);
  const plan = await t.plan(today);
  const why = whys(plan)[far];
  expect(why).toMatchObject({ kind: 'saves', workOrderIds: [], saving: { overtime: 0, waiting: 0 } });
  const { now, planned } = plan.changes;
  // 90.00 an hour and .60 a kilometre.
  const driving = (seconds: number, metres: number) => (seconds * 9_000) / 3600 + (metres * 60) / 1000;
  expect(why.saving.driving).toBeCloseTo(
    driving(now.driveSeconds - planned.driveSeconds, now.driveMetres - planned.driveMetres),
    -1,
  );
  expect(why.text).toMatch(/^saves: USD \d\d+ in all of driving$/);
  await t.accept(plan.id);
  // Nothing more to gain: nothing changes.
  expect((await t.plan(today)).changes.items).toEqual([]);
});

test('a call forces its way in, kit out of service forces a stop out', async () => {
  const jet = await t.order({ north: 8, kit: ['excavator'] });
  await byHand(jet, t.crews.curlew);
  await t.pool.query(
    `INSERT INTO absence (id, kit_item_id, from_day, to_day, reason)
     SELECT gen_random_uuid(), id, $1, $1, 'repair' FROM kit_item WHERE kind = 'excavator'`,
    [THURSDAY],
  );
  const call = await t.order({ north: 9, row: { respond_by: '2026-10-01T16:00:00Z', cause: 'call' } });
  const plan = await t.plan(today);
  expect(whys(plan)[call]).toMatchObject({ kind: 'forced', text: 'forced: a call that cannot wait' });
  expect(whys(plan)[jet]).toMatchObject({
    kind: 'forced',
    text: 'forced: Curlew is no crew with an excavator on Thu 1 Oct 2026',
  });
});
