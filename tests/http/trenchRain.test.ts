import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { m, type PitHouse, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** Rain during the shift: out of the trench until a competent person checked it again (29 CFR 1926.651(k)(1)). */
let t: WorkedHouse;
let house: PitHouse;
let dig: Json;

const check = (checkedAt: string) =>
  t.send(`/v1/work-orders/${dig.id}/trench-checks`, {
    checkedAt: t.at(checkedAt),
    checkedBy: 'Heron',
    depth: m(1.4),
    protection: 'shored',
    exitWithin: m(3),
    spoilBack: m(1),
    oxygenPercent: 20.9,
    ladderAbove: m(1),
  });
const depth = async (seenAt: string): Promise<Json> =>
  t.send(`/v1/work-orders/${dig.id}/trench-depths`, { seenAt: t.at(seenAt), depth: m(1.45) }, 200);
const rain = (endedAt: string, area = 'brindle') =>
  t.send('/v1/rain-reports', { endedAt: t.at(endedAt), area });

beforeAll(async () => {
  t = await workedHouse('2026-06-01T12:00:00Z');
  house = await t.build();
  await t.send('/v1/sites', { address: '1 Far Road', town: 'Elsewhere' });
  dig = await t.order(house, [{ kind: 'dig_and_replace', lineId: house.footing.id }]);
  await t.mayDig(dig);
}, 60_000);

test('rain while the trench is open cancels its check: the crew is told, depth says out, the end is refused', async () => {
  await check('2026-06-04T13:45:00Z');
  await t.begin(dig, '2026-06-04T14:00:00Z');
  expect((await depth('2026-06-04T15:00:00Z')).checkHolds).toBe(true);
  await rain('2026-06-04T15:30:00Z', 'Elsewhere');
  expect((await depth('2026-06-04T15:40:00Z')).checkHolds).toBe(true);
  await rain('2026-06-04T16:00:00Z');
  const { items } = await t.get('/v1/events?type=trench_check_over');
  expect(items).toMatchObject([{ workOrderId: dig.id, facts: { rainEndedAt: '2026-06-04T16:00:00.000Z' } }]);
  const end = {
    replaced: [
      { lineId: house.footing.id, from: m(0), to: m(18), material: 'pvc', bore: { value: 4, unit: 'in' } },
    ],
  };
  const refused = await t.finish(dig, '2026-06-04T16:20:00Z', end, 422);
  expect(refused.errors).toMatchObject([
    { pointer: '#/tasks', detail: expect.stringContaining('since the rain that ended at 2026-06-04T16:00') },
  ]);
  const out = await depth('2026-06-04T16:30:00Z');
  expect([out.checkHolds, out.check.faults.map(({ code }: Json) => code)]).toEqual([
    false,
    ['rain_since_check'],
  ]);
  await check('2026-06-04T16:45:00Z');
  expect((await depth('2026-06-04T17:00:00Z')).checkHolds).toBe(true);
  expect((await t.finish(dig, '2026-06-04T18:30:00Z', end)).state).toBe('done');
});
