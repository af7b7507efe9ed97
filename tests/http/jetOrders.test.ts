import { beforeAll, expect, test } from 'vitest';
import { readXml } from '../papers/readSvg.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

/** How hard, with what and from where to jet stands on the order, at the stop and on the sheet. */
let t: RoutedHouse;
let lineId: string;
let outletId: string;

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('owner', { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
async function get(url: string): Promise<Json> {
  const answer = await t.call('owner', { method: 'GET', url });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const withdraw = (order: Json) => post(`/v1/work-orders/${order.id}/withdrawal`, { because: 'test' }, 200);
const orderOf = (kind: string, more: object = {}) =>
  post('/v1/work-orders', {
    siteId: t.own.siteId,
    because: 'asked for by telephone',
    tasks: [{ kind, lineId, ...more }],
    wantedBy: '2026-10-02',
  });

beforeAll(async () => {
  t = await routedHouse();
  const { rows } = t.house.stores;
  const siteId = t.own.siteId;
  await post('/v1/kit-items', {
    name: 'Heron: trailer jetter',
    kind: 'jetter',
    pressure: { value: 4000, unit: 'psi' },
    flow: { value: 18.5, unit: 'gpm' },
    reach: { value: 60, unit: 'm' },
  });
  const system = await post('/v1/systems', { siteId, name: 'East pit', kind: 'pit' });
  const discharge = await post('/v1/lines', {
    siteId,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    outlet: 'daylight',
  });
  const pit = await post('/v1/pits', {
    siteId,
    systemId: system.id,
    dischargeLineId: discharge.id,
    inflow: { value: 2, unit: 'gpm' },
  });
  const line = await post('/v1/lines', {
    siteId,
    systemId: system.id,
    name: 'Footing',
    kind: 'footing_drain',
    drainsTo: 'pit',
    drainsToPitId: pit.id,
    length: { value: 25, unit: 'm' },
    perforated: true,
    deposit: 'gel',
  });
  lineId = line.id;
  await post('/v1/line-sections', {
    lineId,
    material: 'corrugated_hdpe',
    bore: { value: 4, unit: 'in' },
    condition: 'sound',
    installedOn: '1990-05-01',
  });
  const outlet = await post('/v1/access-points', {
    siteId,
    lineId,
    kind: 'cleanout',
    place: 'by the cellar steps',
    distance: { value: 25, unit: 'm' },
    distanceFrom: 'upstream',
    kitCanEnter: ['jetter'],
  });
  outletId = outlet.id;
  await post('/v1/inspections', {
    lineId,
    observedAt: '2026-09-30T15:00:00Z',
    phase: 'no_cleaning',
    reading: { method: 'camera', share: 0.4 },
  });
  expect((await rows.get('line', lineId))?.['main_bore_mm']).toBeCloseTo(101.6);
});

test('a jet asked for by hand has the plan the service would make, with the calculator’s water', async () => {
  const order = await orderOf('jet');
  const [task] = (await get(`/v1/work-orders/${order.id}`)).tasks;
  const { jet, entries } = task.plan;
  expect(entries).toEqual([{ accessPointId: outletId, runM: 25 }]);
  expect(jet.limits.map(({ at }: Json) => at)).toEqual(['pump', 'nozzle']);
  expect(jet.machine).toBe('Heron: trailer jetter');
  expect(jet.nozzle.leastLengthMm).toBeCloseTo(1.5 * 101.6, 1);
  // Nobody measured the pit: 57 L, filled by 18.5 + 2 gpm in .7 min
  expect(jet.overflow.minutes).toBeCloseTo(57 / ((20.5 * 3.785411784) / 60) / 60, 2);
  expect(jet.assumed).toEqual(['bends', 'nozzle', 'pit_free_volume']);

  const kpa = (value: number) => ({ value, unit: 'kPa' });
  const reckoned = await post(
    '/v1/calculations/jetting?units=metric',
    {
      pipe: {
        material: 'corrugated_hdpe',
        condition: 'sound',
        perforated: true,
        bore: { value: 4, unit: 'in' },
        length: { value: 25, unit: 'm' },
      },
      occlusion: task.plan.occlusionExpected,
      deposit: 'gel',
      machine: { pressure: kpa(jet.pumpKpa * 1.001), flow: { value: jet.flowLps, unit: 'L/s' } },
      hose: { length: { value: 60, unit: 'm' }, bore: '3/4' },
      nozzle: {
        rear: {
          count: jet.nozzle.jets,
          bore: { value: jet.nozzle.jetBoreMm, unit: 'mm' },
          angleFromAxis: 20,
        },
        diameter: { value: jet.nozzle.mostWidthMm * 0.999, unit: 'mm' },
        rigidLength: { value: jet.nozzle.leastLengthMm * 1.001, unit: 'mm' },
      },
    },
    200,
  );
  expect(reckoned.reach.value).toBeGreaterThan(25);
  expect(reckoned.passes).toBe(jet.passes);
  expect(reckoned.water.value / jet.waterL).toBeCloseTo(1, 3);
  expect(reckoned.sludge.value / jet.sludgeL).toBeCloseTo(1, 2);
  expect(Math.abs(order.waterL - reckoned.water.value)).toBeLessThan(1);
  await withdraw(order);
});

test('a jet found on site has its plan too, and the order its water', async () => {
  const order = await orderOf('inspect');
  expect(order.waterL).toBe(0);
  await t.pool.query("UPDATE work_order SET state = 'under_way', started_at = $2 WHERE id = $1", [
    order.id,
    t.clock.at.toISOString(),
  ]);
  const found = await post(`/v1/work-orders/${order.id}/found-work`, {
    foundAt: t.clock.at.toISOString(),
    tasks: [{ kind: 'jet', lineId }],
  });
  expect(found.items[0].plan.jet.passes).toBe(3);
  expect((await get(`/v1/work-orders/${order.id}`)).waterL).toBe(Math.round(found.items[0].plan.jet.waterL));
  await t.pool.query("UPDATE work_order_task SET result = 'done' WHERE work_order_id = $1", [order.id]);
});

test('the stop and the sheet say it in the units of the crew', async () => {
  const order = await orderOf('jet');
  await t.pool.query('UPDATE stop SET work_order_id = $1 WHERE work_order_id = $2', [order.id, t.orderId]);
  const route = await get(`/v1/routes/${t.routeId}`);
  const [task] = route.stops.flatMap((stop: Json) => stop.workOrder?.tasks ?? []);
  expect(task.plan.jet.nozzleKpa).toBeLessThanOrEqual(1500);
  const answer = await t.call('dispatcher', {
    method: 'GET',
    url: `/v1/routes/${t.routeId}/sheet?units=us`,
    headers: { accept: 'text/html' },
  });
  const words = readXml(answer.text.replace('<!DOCTYPE html>\n', '').trimEnd()).text.replaceAll(
    /[\u00A0\u202F]/g,
    ' ',
  );
  for (const said of [
    'at most 218 psi at the nozzle: slotted drain',
    '18.5 gpm',
    'at least 6 in long, at most 3.2 in wide',
    '3 passes: in at 30 ft a minute, out at 15 ft a minute',
    'in at cleanout by the cellar steps for 82 ft',
    'its pull takes the hose through (',
    'runs over after 0.7 min of 25 min: a second pump or vacuum that takes out',
    'a person inside',
    'taken for want of facts: bends, nozzle, pit free volume',
  ])
    expect(words).toContain(said);
});
