import { getIssues } from '@placemarkio/check-geojson';
import { beforeAll, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
let orders: string[];
let proposal: string;
beforeAll(async () => {
  t = await plannedHouse();
  orders = [];
  for (const east of [1, 4, 7]) orders.push(await t.order({ east, north: 7 }));
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id);
  proposal = (await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id;
});

const get = (url: string, role: 'dispatcher' | 'technician' = 'dispatcher') =>
  t.call(role, { method: 'GET', url });
const label = /^[A-Z]\d+$/;

test('GeoJSON has a line per crew, a point per stop and depot, longitude first', async () => {
  const { body, headers, text } = await get(`/v1/routes.geojson?day=${THURSDAY}`);
  expect(getIssues(text)).toEqual([]);
  expect(headers['content-type']).toContain('application/geo+json');
  const kinds = (kind: string) => body.features.filter((each: Json) => each.properties.kind === kind);
  const stops = kinds('visit');
  expect(stops.map((each: Json) => each.properties.workOrderId).sort()).toEqual([...orders].sort());
  for (const stop of stops) {
    expect(stop.properties.label).toMatch(label);
    expect(stop.geometry.coordinates[0]).toBeLessThan(-90);
    expect(stop.geometry.coordinates[1]).toBeCloseTo(44.57, 10);
  }
  for (const route of kinds('route')) {
    const own = stops.filter((stop: Json) => stop.properties.routeId === route.properties.routeId);
    // From the depot past each stop and back.
    expect(route.geometry.coordinates).toHaveLength(own.length + 2);
    expect(route.geometry.coordinates[0]).toEqual(route.geometry.coordinates.at(-1));
  }
  expect(kinds('depot').length).toBeGreaterThan(0);
});

test('the picture shows map and hours, one part, one crew, or a proposal', async () => {
  const sheet = await get(`/v1/routes.svg?day=${THURSDAY}`);
  expect(sheet.headers['content-type']).toContain('image/svg+xml');
  expect(sheet.text).toContain('Routes of');
  expect(sheet.text).toContain('Hours of');
  expect(sheet.text).not.toContain('NaN');
  const hours = await get(`/v1/routes.svg?day=${THURSDAY}&part=hours`);
  expect(hours.text).not.toContain('Routes of');
  const [stop] = await t.live(THURSDAY);
  const one = await get(`/v1/routes.svg?day=${THURSDAY}&part=hours&crewId=${stop?.crewId}`);
  expect(one.text.match(/driving \d/g)?.length).toBeGreaterThan(0);
  expect((await get(`/v1/routes.svg?day=${THURSDAY}&planId=${proposal}`)).status).toBe(200);
  expect((await get(`/v1/routes.svg?day=${THURSDAY}&planId=${crypto.randomUUID()}`)).status).toBe(404);
  // A day without routes is an empty picture, not a fault.
  expect((await get(`/v1/routes.svg?day=${FRIDAY}`)).status).toBe(200);
});

test('a day under way has its hour, and tells where crews have been', async () => {
  // 12:00 UTC is 7:00 in Chicago.
  expect((await get(`/v1/routes.svg?day=${THURSDAY}&units=metric`)).text).toContain('now 7:00');
  expect((await get(`/v1/routes.svg?day=${THURSDAY}&planId=${proposal}`)).text).not.toContain('now ');
  expect((await get(`/v1/routes.svg?day=${FRIDAY}`)).text).not.toContain('now ');
  const [under] = await t.live(THURSDAY);
  await t.pool.query(`UPDATE work_order SET state = 'under_way' WHERE id = $1`, [under?.workOrderId]);
  const { body } = await get(`/v1/routes.geojson?day=${THURSDAY}`);
  const progress = body.features
    .filter(({ properties }: Json) => properties.kind === 'visit')
    .map(({ properties }: Json) => [properties.workOrderId === under?.workOrderId, properties.progress]);
  expect(progress).toContainEqual([true, 'under_way']);
  expect(progress.filter(([, each]: [boolean, string]) => each === 'ahead')).toHaveLength(2);
  expect((await get(`/v1/routes.svg?day=${THURSDAY}`)).text).toContain('there now');
});

test('a technician of no crew sees no routes, and no proposals', async () => {
  expect((await get(`/v1/routes.geojson?day=${THURSDAY}`, 'technician')).body.features).toEqual([]);
  expect((await get(`/v1/routes.svg?day=${THURSDAY}&planId=${proposal}`, 'technician')).status).toBe(403);
});
