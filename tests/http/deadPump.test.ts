import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { kindsOf, RESTORED, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** A pump found dead floods the house long before the next night: told, ordered and asked about the same hour. */
let t: WorkedHouse;

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
}, 60_000);

const DAY = '2026-06-01';
const pitTest = (pitId: string, workOrderId: string | null, observedAt: string, answers: object) =>
  t.send('/v1/inspections', {
    pitId,
    workOrderId,
    observedAt: t.at(observedAt),
    phase: 'no_cleaning',
    pitTest: answers,
  });
const ALL_DEAD = { floatCycled: false, checkValveHolds: false, backupWorks: false, alarmWorks: false };
const noWater = { flowProven: 'not_possible', water: null };
const wordsOf = (orders: Json[]) => orders.map((order) => [kindsOf(order), order.wantedBy, order.respondBy]);

test('a dead float: what to do comes back, the contradiction is refused, pump and repair are ordered with their times', async () => {
  const house = await t.build();
  const order = await t.order(house, [{ kind: 'test_pump', pitId: house.pit.id }]);
  await t.begin(order, `${DAY}T14:00:00Z`);
  const look = await pitTest(house.pit.id, order.id, `${DAY}T14:05:00Z`, ALL_DEAD);
  expect(look.whatNow.foundWork).toEqual([{ kind: 'temporary_pump', pitId: house.pit.id }]);
  expect(look.whatNow.steps.map(({ text }: Json) => text).join(' ')).toMatch(/lock out.*temporary pump/);
  const { items } = await t.get(`/v1/events?type=pit_fault&siteId=${house.site.id}`);
  expect(items).toMatchObject([
    { workOrderId: order.id, facts: { faults: expect.arrayContaining(['the float did not cycle']) } },
  ]);

  const refused = await t.finish(order, `${DAY}T14:30:00Z`, noWater, 422);
  expect(refused.errors[0].pointer).toBe('#/pumpRestored/floatCycled');
  const off = { pumpRestored: { ...RESTORED, floatCycled: false }, ...noWater };
  expect((await t.finish(order, `${DAY}T14:30:00Z`, off, 422)).errors[0].pointer).toBe('#/pumpRestored');
  await t.finish(order, `${DAY}T14:30:00Z`, {
    ...off,
    note: 'no float on the truck; owner told to watch it',
  });

  // 4 gpm fill 20 gal in 5 minutes: water rising, 120 minutes, half of them with a finished basement; from 14:30.
  const orders = await t.ahead(house);
  expect(wordsOf(orders)).toEqual([
    [['temporary_pump'], DAY, `${DAY}T15:30:00.000Z`],
    [['fit_pump', 'fit_alarm', 'test_pump'], DAY, null],
  ]);
  expect(orders[0]?.waitsFor.filter(({ state }: Json) => state === 'open')).toEqual([]);
  // Found dead, it was not tested.
  expect((await t.get(`/v1/pits/${house.pit.id}`)).lastTestedOn).toBeNull();

  await t.begin(orders[0], `${DAY}T15:00:00Z`);
  await t.finish(orders[0], `${DAY}T15:20:00Z`, noWater);
  await t.meet(orders[1]);
  await t.begin(orders[1], `${DAY}T16:00:00Z`);
  await t.finish(orders[1], `${DAY}T17:00:00Z`, noWater);
  // Repaired and tested: nothing is raised again, and a repair put no second pump on the books.
  expect(await t.ahead(house)).toEqual([]);
  expect((await t.get(`/v1/pits/${house.pit.id}`)).lastTestedOn).toBe(DAY);
  expect((await t.get(`/v1/pumps?pitId=${house.pit.id}`)).items).toEqual([]);
});

test('what a dead part leads to decides by when it is repaired; outside of a visit it is ordered at once', async () => {
  const repairs: [object, string[], string][] = [
    [{ floatCycled: true, checkValveHolds: false }, ['fit_pump', 'test_pump'], '2026-06-03'],
    [{ backupWorks: false }, ['fit_pump', 'test_pump'], '2026-06-08'],
    [{ alarmWorks: false }, ['fit_alarm', 'test_pump'], '2026-06-15'],
  ];
  for (const [answers, kinds, day] of repairs) {
    const house = await t.build();
    await pitTest(house.pit.id, null, `${DAY}T14:00:00Z`, answers);
    expect(wordsOf(await t.ahead(house))).toEqual([[kinds, day, null]]);
  }
  const fine = await t.build();
  const look = await pitTest(fine.pit.id, null, `${DAY}T14:00:00Z`, { floatCycled: true, alarmWorks: true });
  expect([look.whatNow, await t.ahead(fine)]).toEqual([null, []]);
});

test('a backup that works gives time; a pit nothing runs into needs no pump', async () => {
  const backed = await t.build();
  await pitTest(backed.pit.id, null, `${DAY}T14:00:00Z`, { floatCycled: false, backupWorks: true });
  // A battery lasts hours: as an alarm, 240 minutes.
  expect((await t.ahead(backed))[0]?.respondBy).toBe(`${DAY}T18:00:00.000Z`);
  const dry = await t.build({ pit: { inflow: { value: 0, unit: 'gpm' } } });
  await pitTest(dry.pit.id, null, `${DAY}T14:00:00Z`, { floatCycled: false });
  expect((await t.ahead(dry)).map(kindsOf)).toEqual([['fit_pump', 'test_pump']]);
});

/** The crew of the order finds the discharge plugged, five minutes in. */
const dischargePlugged = (house: Json, order: Json, cause: string): Promise<Json> =>
  t.send('/v1/inspections', {
    lineId: house.discharge.id,
    workOrderId: order.id,
    observedAt: t.at(`${DAY}T14:05:00Z`),
    phase: 'no_cleaning',
    plugged: { cause },
  });

test('a pump tested against a shut discharge was not tested; posting the plug says what now', async () => {
  const house = await t.build();
  const order = await t.order(house, [{ kind: 'test_pump', pitId: house.pit.id }]);
  await t.begin(order, `${DAY}T14:00:00Z`);
  const plug = await dischargePlugged(house, order, 'deposit');
  expect(plug.whatNow.foundWork).toEqual([{ kind: 'temporary_pump', pitId: house.pit.id }]);
  expect(plug.whatNow.steps[0].text).toContain('Stop flushing and jetting toward the pit');
  await t.finish(order, `${DAY}T14:30:00Z`, noWater);
  expect((await t.get(`/v1/pits/${house.pit.id}`)).lastTestedOn).toBeNull();
});

test('a pump that a crew sets on the spot is not ordered again', async () => {
  const house = await t.build();
  const order = await t.order(house, [{ kind: 'inspect', lineId: house.discharge.id }]);
  await t.begin(order, `${DAY}T14:00:00Z`);
  const plug = await dischargePlugged(house, order, 'roots');
  await t.send(`/v1/work-orders/${order.id}/found-work`, {
    foundAt: t.at(`${DAY}T14:10:00Z`),
    tasks: plug.whatNow.foundWork.map((task: Json, i: number) => ({
      ...task,
      id: `019abcde-0000-7000-8000-0000000000f${i}`,
    })),
  });
  await t.finish(order, `${DAY}T15:00:00Z`, noWater);
  expect((await t.ahead(house)).map(kindsOf)).toEqual([['cable']]);
});
