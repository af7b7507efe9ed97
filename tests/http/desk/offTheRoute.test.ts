import { beforeEach, expect, test } from 'vitest';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
}, 60_000);

const get = (url: string) => t.call('dispatcher', { method: 'GET', url });
const post = async (url: string, payload?: object, role: 'dispatcher' | 'owner' = 'dispatcher') => {
  const answer = await t.call(role, { method: 'POST', url, ...(payload ? { payload } : {}) });
  expect(answer.status, answer.text).toBeLessThan(300);
  return answer.body;
};
const siteOf = async (order: string) =>
  String((await t.house.stores.rows.get('work_order', order))?.['site_id']);

/** Heron's published Thursday: five houses in a row, an hour each. */
async function publishedDay(): Promise<string[]> {
  const orders: string[] = [];
  for (const east of [1, 2, 3, 4, 5]) {
    const order = await t.order({ east, north: 8 });
    const placed = await t.place(order, {
      crewId: t.crews.heron,
      day: THURSDAY,
      afterWorkOrderId: orders.at(-1) ?? null,
    });
    expect(placed.status, placed.text).toBe(200);
    orders.push(order);
  }
  await post(`/v1/days/${THURSDAY}/publication`);
  return orders;
}

/** Orders of the day, as each answer that shows routes has them. */
async function shown() {
  const { items, totals } = (await get(`/v1/routes?day=${THURSDAY}`)).body;
  const [route] = items;
  const sheet = (await get(`/v1/routes/${route.id}/sheet`)).text;
  const map = (await get(`/v1/routes.geojson?day=${THURSDAY}`)).body;
  const book = (await get(`/v1/days/${THURSDAY}`)).body;
  const ids = (stops: Json[]) => stops.flatMap(({ workOrder }) => (workOrder ? [workOrder.id] : []));
  return {
    route,
    sheet,
    onRoute: ids(route.stops),
    readAlone: ids((await get(`/v1/routes/${route.id}`)).body.stops),
    onMap: (map.features as Json[]).flatMap(({ properties }) =>
      properties.workOrderId ? [properties.workOrderId] : [],
    ),
    totals,
    day: book.crews.find(({ crewName }: Json) => crewName === 'Heron').route,
  };
}

test('a withdrawn or sold visit leaves route, sheet, map and counts; the crew has that time to wait', async () => {
  const [a = '', sold = '', c = '', off = '', e = ''] = await publishedDay();
  const before = await shown();
  expect(before.onMap).toEqual([a, sold, c, off, e]);
  await post(`/v1/work-orders/${off}/withdrawal`, { because: 'cancelled' });
  await post(`/v1/sites/${await siteOf(sold)}/sale`, {
    soldOn: '2026-09-30',
    buyer: { name: 'Bo Alder', phone: '555 0142' },
  });
  const after = await shown();
  expect(after.onRoute).toEqual([a, c, e]);
  expect(after.readAlone).toEqual([a, c, e]);
  expect(after.onMap).toEqual([a, c, e]);
  expect(after.totals).toMatchObject({ stops: 3, workSeconds: 3 * 3600 });
  expect(after.day).toMatchObject({ visits: 3, ahead: 3, tried: 0, workSeconds: 3 * 3600 });
  expect(after.route.waitSeconds).toBe(before.route.waitSeconds + 2 * 3600);
  expect(after.route.version).toBeGreaterThan(before.route.version);
  expect(before.sheet).toContain('4 Marsh Gate');
  for (const gone of ['2 Marsh Gate', '4 Marsh Gate', 'Bo Alder', '555 0142'])
    expect(after.sheet).not.toContain(gone);
  expect(after.sheet).toMatch(/3\svisits/);
});

test('a visit that was tried that day stays, says so, and names nobody to phone', async () => {
  const [a = '', tried = '', ...later] = await publishedDay();
  t.clock.at = new Date('2026-10-01T15:30:00Z');
  await post(`/v1/work-orders/${tried}/start`, { startedAt: '2026-10-01T14:40:00Z', cautionsSeen: true });
  await post(`/v1/work-orders/${tried}/finish`, {
    endedAt: '2026-10-01T14:50:00Z',
    result: 'not_done',
    reason: 'no_one_home',
  });
  const told = await post(`/v1/routes/${(await shown()).route.id}/publication`);
  expect(told).toMatchObject({ times: 2 });
  await post(`/v1/sites/${await siteOf(tried)}/sale`, {
    soldOn: THURSDAY,
    buyer: { name: 'Bo Alder', phone: '555 0142' },
  });
  const { route, sheet, onRoute, onMap, totals, day } = await shown();
  expect(onRoute).toEqual([a, tried, ...later]);
  expect(onMap).toEqual(onRoute);
  expect(totals.stops).toBe(5);
  expect(day).toMatchObject({ visits: 5, ahead: 4, tried: 1, done: 0, underWay: 0, state: 'published' });
  expect(route.changesSincePublished).toEqual([]);
  const stop = route.stops.find(({ workOrder }: Json) => workOrder?.id === tried);
  expect(stop).toMatchObject({
    drivenTo: false,
    attempt: {
      startedAt: '2026-10-01T14:40:00.000Z',
      endedAt: '2026-10-01T14:50:00.000Z',
      result: 'not_done',
      reason: 'no_one_home',
    },
  });
  expect(route.stops[0]).toMatchObject({ drivenTo: true, attempt: null });
  expect(sheet).toContain('was begun at 9:40, not done: no one home; nobody drives there again');
  expect(sheet).toMatch(/5\svisits/);
  expect(sheet).not.toContain('555 0142');
});
