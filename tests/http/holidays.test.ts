import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const MONDAY = '2026-10-05';
const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;
const post = (url: string, payload: object) => t.call('owner', { method: 'POST', url, payload });

/** One promised and one that only curlew can do, both on Friday's routes; then Friday becomes a holiday. */
async function holidayOnFriday(): Promise<{ promised: string; dig: string }> {
  const promised = await t.order({ east: 1, north: 8 });
  const dig = await t.order({ kit: ['excavator'], task: 'dig_and_replace', people: 2 });
  for (const [id, crewId] of [
    [promised, t.crews.heron],
    [dig, t.crews.curlew],
  ] as const)
    await t.place(id, { crewId, day: FRIDAY, afterWorkOrderId: null });
  await t.promise(promised, FRIDAY);
  expect((await post('/v1/holidays', { day: FRIDAY, name: 'Harvest day' })).status).toBe(201);
  return { promised, dig };
}

test('before a plan the promise of a holiday does not stand as kept', async () => {
  await holidayOnFriday();
  const { promises } = await get(`/v1/days/${FRIDAY}`);
  expect(promises).toMatchObject([
    {
      standing: 'nowhere',
      text: 'Stands on the route of Heron, which does not work that day (Harvest day): plan anew, or phone.',
    },
  ]);
});

test('a plan over a holiday moves its visits, says why the others have no place, and whom to phone', async () => {
  const { promised, dig } = await holidayOnFriday();
  // The one crew with an excavator does not come back before the plan is over.
  await t.pool.query('DELETE FROM shift WHERE crew_id = $1', [t.crews.curlew]);
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 2 });
  expect(plan).toMatchObject({ fromDay: THURSDAY, toDay: MONDAY });
  const kinds = Object.fromEntries(plan.changes.items.map((each: Json) => [each.workOrderId, each.kind]));
  expect(kinds).toEqual({ [promised]: 'moved_day', [dig]: 'dropped' });
  expect(plan.unplaced).toMatchObject([{ workOrderId: dig, code: 'no_kit' }]);
  expect(plan.toPhone).toMatchObject([
    { workOrderId: promised, promised: { day: FRIDAY }, because: `no crew works on ${FRIDAY}: Harvest day` },
  ]);
  await t.accept(plan.id);
  expect(await t.live(FRIDAY)).toEqual([]);
  expect((await t.live(THURSDAY)).map(({ workOrderId }) => workOrderId)).toEqual([promised]);
});

test('also where the holiday is the first day of the plan', async () => {
  const { promised } = await holidayOnFriday();
  const plan = await t.plan({ fromDay: FRIDAY, workingDays: 1 });
  expect(plan).toMatchObject({ fromDay: FRIDAY, toDay: MONDAY });
  expect(plan.toPhone).toMatchObject([{ workOrderId: promised }]);
  await t.accept(plan.id);
  expect(await t.live(FRIDAY)).toEqual([]);
  expect((await t.live(MONDAY)).map(({ workOrderId }) => workOrderId)).toContain(promised);
});

test('what was taken back is away from nobody: the crew is at work in the day book, and takes calls', async () => {
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  t.clock.at = new Date('2026-10-01T15:00:00Z');
  const { body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/disruptions',
    payload: { kind: 'crew_broken_down', crewId: t.crews.heron },
  });
  const bookOf = async () =>
    (await get(`/v1/days/${THURSDAY}`)).crews.find((crew: Json) => crew.crewId === t.crews.heron);
  expect((await bookOf()).works).toBe(false);
  await t.call('dispatcher', { method: 'POST', url: `/v1/disruptions/${body.disruption.id}/withdrawal` });
  expect(await bookOf()).toMatchObject({ works: true, absences: [] });
  const taken = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/calls',
    payload: { kind: 'alarm', caller: { name: 'B' }, newSite: { address: '1 Reed Row', town: 'Brindle' } },
  });
  expect(taken.body.whoGoes).toMatchObject({ kind: 'crew_on_shift', crews: [{ id: t.crews.heron }] });
});
