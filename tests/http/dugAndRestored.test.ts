import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { m, type PitHouse, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** What a dig put into the ground is asked, taken from its plan where nothing else was said, and never more than that. */
let t: WorkedHouse;

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
}, 60_000);

async function traced(house: PitHouse): Promise<void> {
  t.at('2026-06-01T13:00:00Z');
  const trace = await t.order(house, [{ kind: 'trace', lineId: house.footing.id }]);
  await t.begin(trace, '2026-06-01T14:00:00Z');
  const found = { from: m(4), to: m(6), depth: m(0.8) };
  await t.finish(trace, '2026-06-01T15:00:00Z', {
    flowProven: 'not_possible',
    water: null,
    tasks: [{ id: trace.tasks[0].id, result: 'done', found }],
  });
}
/** A dig of the footing drain under way, its open trench checked. */
async function dug(house: PitHouse): Promise<Json> {
  t.at('2026-06-01T16:00:00Z');
  const dig = await t.order(house, [{ kind: 'dig_and_replace', lineId: house.footing.id }]);
  await t.mayDig(dig);
  await t.send(`/v1/work-orders/${dig.id}/trench-checks`, {
    checkedAt: t.at('2026-06-04T13:45:00Z'),
    checkedBy: 'Heron',
    depth: m(1),
    protection: 'none',
  });
  await t.begin(dig, '2026-06-04T14:00:00Z');
  return dig;
}
const present = async (house: PitHouse) =>
  (await t.get(`/v1/line-sections?lineId=${house.footing.id}`)).items
    .filter((each: Json) => each.removedOn === null)
    .map((each: Json) => [each.from?.value ?? null, each.to?.value ?? null, each.material])
    .sort((a: Json[], b: Json[]) => a[0] - b[0]);
const replacedEpochs = async (house: PitHouse) =>
  (await t.get(`/v1/epochs?lineId=${house.footing.id}`)).items.filter(
    (each: Json) => each.because === 'replaced',
  );
const END = '2026-06-04T18:00:00Z';

test('a dig of 4 m to 6 m is asked what went in, and without ends replaces those two metres alone', async () => {
  const house = await t.build();
  await traced(house);
  const dig = await dug(house);
  const unsaid = await t.finish(dig, END, {}, 422);
  expect(unsaid.errors).toMatchObject([
    { pointer: '#/replaced', remedy: expect.stringContaining('4.0 m to 6.0 m') },
  ]);
  await t.finish(dig, END, { replaced: [{ lineId: house.footing.id }] });
  const { newMaterial } = dig.tasks[0].plan;
  expect(await present(house)).toEqual([
    [0, 4, 'corrugated_hdpe'],
    [4, 6, newMaterial],
    [6, 18, 'corrugated_hdpe'],
  ]);
  expect(await replacedEpochs(house)).toEqual([]);
  const { items } = await t.get(`/v1/regime-changes?lineId=${house.footing.id}`);
  expect(items.map((each: Json) => each.cause)).toEqual(['partial_replacement']);
});

test('where nobody traced the ends they are asked, and the whole line is new only where somebody says so', async () => {
  const house = await t.build();
  const dig = await dug(house);
  const pipe = { lineId: house.footing.id, material: 'pvc', bore: { value: 4, unit: 'in' } };
  const refused = await t.finish(dig, END, { replaced: [pipe] }, 422);
  expect(refused.errors.map(({ pointer }: Json) => pointer)).toEqual([
    '#/replaced/0/from',
    '#/replaced/0/to',
  ]);
  const both = await t.finish(dig, END, { replaced: [{ ...pipe, whole: true, from: m(0), to: m(3) }] }, 422);
  expect(both.errors[0].pointer).toBe('#/replaced/0/whole');
  await t.finish(dig, END, { replaced: [{ ...pipe, whole: true }] });
  expect((await present(house)).map(([, , material]: Json[]) => material)).toEqual(['pvc']);
  expect(await replacedEpochs(house)).toHaveLength(1);
});

test('a line that was opened and left as it is says so, and keeps its pipe', async () => {
  const house = await t.build();
  const dig = await dug(house);
  await t.finish(dig, END, { replaced: [] });
  expect((await present(house)).map(([, , material]: Json[]) => material)).toEqual(['corrugated_hdpe']);
  const { items } = await t.get(`/v1/regime-changes?lineId=${house.footing.id}`);
  expect(items.map((each: Json) => each.cause)).toEqual(['excavation']);
});

test('a restoration fills up by hand; with an excavator it takes the people of a dig and a ticket', async () => {
  const house = await t.build();
  t.at('2026-06-01T12:00:00Z');
  const lineId = house.footing.id;
  const byHand = await t.order(house, [{ kind: 'restore', lineId }]);
  expect([byHand.kit, byHand.people, byHand.waitsFor]).toEqual([[], 1, []]);
  await t.send(`/v1/work-orders/${byHand.id}/withdrawal`, { because: 'with a machine instead' }, 200);
  const digger = await t.order(house, [{ kind: 'restore', lineId }], { kit: ['excavator'] });
  expect([digger.kit, digger.people, digger.waitsFor.map(({ kind }: Json) => kind)]).toEqual([
    ['excavator'],
    2,
    ['locate_ticket'],
  ]);
});
