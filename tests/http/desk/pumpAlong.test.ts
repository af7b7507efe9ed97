import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  // Thursday, 9:00 in Chicago; of three crews only Plover has a pump.
  t = await plannedHouse('2026-10-01T14:00:00Z');
  const { rows } = t.house.stores;
  const pump = randomUUID();
  await rows.insert('kit_item', { id: pump, name: 'Trash pump', kind: 'pump' });
  await rows.insert('crew_kit', {
    id: randomUUID(),
    crew_id: t.crews.plover,
    kit_item_id: pump,
    from_day: '2026-01-01',
  });
}, 60_000);

test('a wet emergency takes a pump along; a crew without one may go, and every answer says so', async () => {
  const call = async (kind: string): Promise<Json> => {
    const newSite = { address: `2 ${kind} Row`, town: 'Brindle', latitude: 44.55, longitude: -90.3 };
    const { status, body, text } = await t.call('dispatcher', {
      method: 'POST',
      url: '/v1/calls',
      payload: { kind, caller: { name: 'B. Alder' }, newSite },
    });
    expect(status, text).toBe(201);
    return body.workOrder;
  };
  expect((await call('alarm')).kit).toEqual([]);
  const order = await call('water_rising');
  expect(order.kit).toEqual(['pump']);
  const { places } = (
    await t.call('dispatcher', { method: 'GET', url: `/v1/work-orders/${order.id}/places?days=1` })
  ).body;
  const said = new Map(
    places.map(({ crewName, consequence }: Json) => [
      crewName,
      consequence.warnings
        .filter(({ code }: Json) => code === 'no_pump_on_board')
        .map(({ text }: Json) => text),
    ]),
  );
  expect([...said.keys()]).toEqual(expect.arrayContaining(['Heron', 'Plover']));
  expect(said.get('Plover')).toEqual([]);
  expect(said.get('Heron')).toEqual([
    expect.stringMatching(
      /^Heron has no pump on board for order \d+, 2 water_rising Row: Plover has one that day$/,
    ),
  ]);
  const placed = await t.place(order.id, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: null,
    displaces: [],
  });
  expect(placed.status, JSON.stringify(placed.body)).toBe(200);
  expect(placed.body.warnings.map(({ code }: Json) => code)).toContain('no_pump_on_board');
  const day = (await t.call('dispatcher', { method: 'GET', url: `/v1/days/${THURSDAY}` })).body;
  expect(day.hinderedVisits).toEqual([]);
}, 60_000);
