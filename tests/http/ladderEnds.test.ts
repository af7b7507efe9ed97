import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { kindsOf, m, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** The ladder of one line climbs once and ends in a dig or with a person; a line that runs is not sold a dig. */
let t: WorkedHouse;

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
}, 60_000);

const DAY = '2026-06-01';

test('roots that nothing cuts: cable, trace, then the dig; no cable is ordered twice', async () => {
  const house = await t.build({ pit: { inflow: { value: 0, unit: 'gpm' } } });
  await t.send('/v1/inspections', {
    lineId: house.discharge.id,
    observedAt: t.at(`${DAY}T13:00:00Z`),
    phase: 'no_cleaning',
    plugged: { cause: 'roots' },
  });
  const climbed: string[][] = [];
  for (let hour = 14; hour < 20; hour++) {
    const [order] = await t.ahead(house);
    climbed.push(kindsOf(order));
    if (climbed.at(-1)?.includes('dig_and_replace')) break;
    await t.meet(order);
    await t.begin(order, `${DAY}T${hour}:00:00Z`);
    await t.finish(order, `${DAY}T${hour}:30:00Z`, { flowProven: 'no' });
  }
  expect(climbed).toEqual([['cable'], ['trace'], ['dig_and_replace', 'inspect', 'test_pump']]);
});

test('ice is never dug for: after the outlet was cleared in vain the office is told that a person decides', async () => {
  const house = await t.build({ pit: { inflow: { value: 0, unit: 'gpm' } } });
  await t.send('/v1/inspections', {
    lineId: house.discharge.id,
    observedAt: t.at(`${DAY}T13:00:00Z`),
    phase: 'no_cleaning',
    plugged: { cause: 'ice' },
  });
  const [clear] = await t.ahead(house);
  expect(kindsOf(clear)).toEqual(['clear_outlet']);
  await t.meet(clear);
  await t.begin(clear, `${DAY}T14:00:00Z`);
  await t.finish(clear, `${DAY}T14:30:00Z`, { flowProven: 'no' });
  expect(await t.ahead(house)).toEqual([]);
  const { items } = await t.get(`/v1/events?type=ladder_ends&siteId=${house.site.id}`);
  expect(items).toMatchObject([
    { lineId: house.discharge.id, text: expect.stringContaining('wait for the thaw') },
  ]);
});

test('one poor clean and a trace sell no dig', async () => {
  const house = await t.build();
  const { footing } = house;
  const jet = await t.order(house, [{ kind: 'jet', lineId: footing.id }]);
  await t.begin(jet, `${DAY}T14:00:00Z`);
  await t.send('/v1/cleans', {
    lineId: footing.id,
    workOrderId: jet.id,
    cleanedAt: t.at(`${DAY}T14:30:00Z`),
    task: 'jet',
    flowProven: 'yes',
    cameBack: 'thick',
  });
  await t.finish(jet, `${DAY}T14:50:00Z`);
  const trace = await t.order(house, [{ kind: 'trace', lineId: footing.id }]);
  await t.begin(trace, `${DAY}T15:00:00Z`);
  const found = { from: m(0), to: m(18), depth: m(1) };
  await t.finish(trace, `${DAY}T15:30:00Z`, {
    water: null,
    tasks: [{ id: trace.tasks[0].id, result: 'done', found }],
  });
  expect(await t.ahead(house)).toEqual([]);
});

test('a trace counts by when it was done, not by when its end was told', async () => {
  const house = await t.build({ pit: { inflow: { value: 0, unit: 'gpm' } } });
  const { discharge } = house;
  const trace = await t.order(house, [{ kind: 'trace', lineId: discharge.id }]);
  await t.begin(trace, '2026-05-20T14:00:00Z');
  await t.send('/v1/inspections', {
    lineId: discharge.id,
    observedAt: t.at(`${DAY}T13:00:00Z`),
    phase: 'no_cleaning',
    plugged: { cause: 'crushed' },
  });
  // The end of a visit of 20 May comes in on 1 June: it was no search for this plug.
  t.at(`${DAY}T16:00:00Z`);
  const late = { result: 'done', flowProven: 'not_possible', endedAt: '2026-05-20T15:00:00Z' };
  await t.send(
    `/v1/work-orders/${trace.id}/finish`,
    { ...late, pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true } },
    200,
  );
  expect((await t.ahead(house)).map((order: Json) => kindsOf(order))).toEqual([['trace']]);
});
