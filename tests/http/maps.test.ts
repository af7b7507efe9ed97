import { getIssues } from '@placemarkio/check-geojson';
import { beforeAll, expect, test } from 'vitest';
import { featureCollection } from '../setup/geoJson.js';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeAll(async () => {
  t = await plannedHouse();
  for (const east of [1, 2, 3, 4]) await t.order({ east, north: east });
  await t.house.stores.rows.insert('site', {
    id: crypto.randomUUID(),
    address: 'Nowhere yet',
    town: 'Wexley',
    area: 'Wexley',
  });
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: THURSDAY } });
  await t.work();
}, 60_000);
const get = (url: string, role: 'owner' | 'technician' = 'owner') => t.call(role, { method: 'GET', url });
const features = async (url: string): Promise<Json[]> => {
  const answer = await get(url);
  expect(answer.status, answer.text).toBe(200);
  expect(answer.headers['content-type']).toContain('application/geo+json');
  featureCollection.parse(answer.body);
  expect(getIssues(answer.text)).toEqual([]);
  return answer.body.features;
};

test('what we and a parser of another author take for GeoJSON is what RFC 7946 says', () => {
  const point = { type: 'Feature', geometry: { type: 'Point', coordinates: [-90, 44] }, properties: null };
  const good = { type: 'FeatureCollection', features: [point] };
  expect(featureCollection.safeParse(good).success).toBe(true);
  for (const bad of [
    { ...good, crs: {} },
    { ...good, features: [{ ...point, coordinates: [1, 2] }] },
    { ...good, features: [{ ...point, geometry: { type: 'Point', coordinates: [44, -190] } }] },
    { ...good, features: [{ ...point, geometry: { type: 'LineString', coordinates: [[1, 2]] } }] },
    { ...good, features: [{ type: 'Feature', properties: null }] },
    { type: 'FeatureCollection' },
  ])
    expect(featureCollection.safeParse(bad).success, JSON.stringify(bad)).toBe(false);
  expect(getIssues(JSON.stringify(good))).toEqual([]);
  for (const bad of [
    '{"type": "FeatureCollection", "features": [',
    JSON.stringify({ ...good, features: [{ type: 'Feature', properties: null }] }),
    JSON.stringify({ ...good, features: [{ ...point, geometry: { type: 'Point', coordinates: ['44'] } }] }),
  ])
    expect(getIssues(bad), bad).not.toEqual([]);
});

test('sites and lines come with their place, longitude first, and how they stand', async () => {
  const sites = await features('/v1/sites.geojson');
  expect(sites).toHaveLength(5);
  const first = sites.find(({ properties }) => properties.address === '1 Marsh Gate');
  // East 1 and north 1 of 44.5, -90.3, in hundredths of a degree.
  expect(first.geometry).toEqual({ type: 'Point', coordinates: [-90.29, 44.51] });
  expect(first.properties).toMatchObject({ lines: 1, openOrders: 1, town: 'Brindle' });
  expect(first.properties.standing).not.toBe('undated');
  const off = sites.find(({ properties }) => properties.address === 'Nowhere yet');
  expect(off).toMatchObject({ geometry: null, properties: { standing: 'undated', lines: 0, dueOn: null } });
  const lines = await features('/v1/lines.geojson?kind=yard_drain');
  expect(lines).toHaveLength(4);
  expect(lines[0].properties).toMatchObject({ kind: 'yard_drain', siteId: expect.any(String) });
});

test('the routes of a day are such a collection too', async () => {
  const { rows } = await t.pool.query(`SELECT day FROM route WHERE state = 'live' ORDER BY day LIMIT 1`);
  const routes = await features(`/v1/routes.geojson?day=${rows[0].day}`);
  expect(routes.length).toBeGreaterThan(2);
});

test('filters, boxes and pages narrow the map', async () => {
  expect(await features('/v1/sites.geojson?area=Wexley')).toHaveLength(1);
  const boxed = await features('/v1/lines.geojson?bbox=-90.295,44.5,-90.275,44.525');
  expect(boxed.map(({ properties }) => properties.address).sort()).toEqual(['1 Marsh Gate', '2 Marsh Gate']);
  const dates = (await features('/v1/lines.geojson?sort=dueOn')).map(({ properties }) => properties.dueOn);
  expect(dates).toEqual([...dates].sort());
  expect(await features('/v1/lines.geojson?dueBefore=2026-01-01')).toEqual([]);
  const first = (await get('/v1/sites.geojson?limit=3')).body;
  const rest = (await get(`/v1/sites.geojson?limit=3&cursor=${first.next}`)).body;
  expect([...first.features, ...rest.features].map(({ id }: Json) => id)).toHaveLength(5);
  expect(new Set([...first.features, ...rest.features].map(({ id }: Json) => id)).size).toBe(5);
  expect(rest.next).toBeNull();
  for (const wrong of ['bbox=1,2,3', 'bbox=10,0,-10,5', 'kind=river', 'limit=0', 'colour=red'])
    expect((await get(`/v1/lines.geojson?${wrong}`)).status, wrong).toBe(400);
  expect((await get('/v1/sites.geojson', 'technician')).status).toBe(403);
});
