import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { ownerSettings } from '../actions/ownerSettings.js';
import type { Condition, Row } from '../actions/ports.js';
import { LINE_KINDS, MATERIALS, type Role } from '../domain/words.js';
import { type PlaceFeature, placeFeature, STANDINGS, standingOf } from '../papers/baseGeoJson.js';
import { type ListQuery, listQuery, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, oneLine, queryNumber, refusals } from './shapes.js';

const READERS: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const bbox = z
  .string()
  .regex(/^-?\d{1,3}(\.\d+)?(,-?\d{1,3}(\.\d+)?){3}$/, 'is not west,south,east,north')
  .refine((text) => {
    const [west = 0, south = 0, east = 0, north = 0] = text.split(',').map(Number);
    return west <= east && south <= north;
  }, 'is not west,south,east,north: ask twice for what lies on both sides of the antimeridian')
  .describe('west,south,east,north in degrees');
const filters = {
  bbox: bbox.optional(),
  area: oneLine(120).optional(),
  town: oneLine(120).optional(),
  dueBefore: day.optional(),
  pastLimit: z.stringbool().optional().describe('true: likelier than not past the action limit in 30 days'),
};
/** A map wants more at once than a list. */
const limit = queryNumber(z.number().int().min(1).max(10_000)).default(1000);

const collection = (name: string, properties: z.ZodObject) =>
  z
    .object({
      type: z.literal('FeatureCollection'),
      features: z.array(
        z.object({
          type: z.literal('Feature'),
          id: z.uuid(),
          geometry: z
            .object({
              type: z.literal('Point'),
              coordinates: z.array(z.number()).min(2).max(2).describe('longitude, latitude'),
            })
            .nullable()
            .describe('null: nobody has put it on the map'),
          properties,
        }),
      ),
      next: z.string().nullable().describe('cursor of what follows; null: that is all'),
    })
    .meta({ id: name, description: 'RFC 7946; sent as application/geo+json.' });

const standing = {
  dueOn: day.nullable(),
  standing: z.enum(STANDINGS),
  actionWithin30Days: z.number().nullable(),
  plugWithinYear: z.number().nullable(),
};
const siteProperties = z.object({
  address: z.string(),
  town: z.string(),
  area: z.string(),
  lines: z.number().int(),
  openOrders: z.number().int(),
  ...standing,
});
const lineProperties = z.object({
  name: z.string(),
  kind: z.enum(LINE_KINDS),
  material: z.enum(MATERIALS),
  siteId: z.uuid(),
  address: z.string(),
  town: z.string(),
  area: z.string(),
  occlusion: z.number().nullable(),
  actionLimit: z.number().nullable(),
  ...standing,
});

/** The client base on a map: sites, and lines at their site's place, with how each stands. */
export function registerMapRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/sites.geojson',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'mapSites',
        summary: 'Sites as GeoJSON with the standing of the worst of their lines',
        tags: ['maps'],
        querystring: listQuery({ filters, sorts: ['dueOn', 'address'] }).extend({ limit }),
        response: { 200: collection('SitesGeoJson', siteProperties), ...refusals() },
      },
    },
    (request, reply) =>
      answer(house, request, reply, 'site_map', (row) => ({
        address: row['address'],
        town: row['town'],
        area: row['area'],
        lines: row['lines'],
        openOrders: row['open_orders'],
      })),
  );

  app.get(
    '/v1/lines.geojson',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'mapLines',
        summary: "Lines as GeoJSON, each a point at its site's place, with how it stands",
        tags: ['maps'],
        querystring: listQuery({
          filters: {
            ...filters,
            kind: z.enum(LINE_KINDS).optional(),
            material: z.enum(MATERIALS).optional(),
          },
          sorts: ['dueOn', 'address'],
        }).extend({ limit }),
        response: { 200: collection('LinesGeoJson', lineProperties), ...refusals() },
      },
    },
    (request, reply) =>
      answer(house, request, reply, 'line_map', (row) => ({
        name: row['name'],
        kind: row['kind'],
        material: row['material'],
        siteId: row['site_id'],
        address: row['address'],
        town: row['town'],
        area: row['area'],
        occlusion: row['occlusion'],
        actionLimit: row['action_limit'],
      })),
  );
}

async function answer(
  house: House,
  request: FastifyRequest,
  reply: FastifyReply,
  view: 'site_map' | 'line_map',
  properties: (row: Row) => Record<string, unknown>,
): Promise<FastifyReply> {
  const asked = request.query as ListQuery;
  const { overLimitChance } = (await ownerSettings(house.stores)).intervals;
  const today = house.zone.dayOf(house.clock.now());
  const ask = pageAskOf(asked, conditions(asked, overLimitChance), {
    list: view,
    columnOf: snake,
    searchColumns: [],
    defaultSort: 'address',
  });
  const rows = await house.stores.rows.page(view, { ...ask, limit: ask.limit + 1 });
  const feature = (row: Row): PlaceFeature => {
    const dueOn = row['due_on'] as string | null;
    const actionChance = row['action_chance_30d'] as number | null;
    const at =
      row['latitude'] === null
        ? null
        : { latitude: Number(row['latitude']), longitude: Number(row['longitude']) };
    return placeFeature(String(row['id']), at, {
      ...properties(row),
      dueOn,
      standing: standingOf({ dueOn, actionChance }, today, overLimitChance),
      actionWithin30Days: actionChance,
      plugWithinYear: row['plug_chance_year'],
    });
  };
  reply.type('application/geo+json');
  return ask.answer(reply, request, rows, feature, ({ items, next }) => ({
    type: 'FeatureCollection',
    features: items,
    next,
  }));
}

function conditions(asked: Record<string, unknown>, overLimitChance: number): Condition[] {
  const where: Condition[] = ['area', 'town', 'kind', 'material'].flatMap((column) =>
    asked[column] === undefined ? [] : [{ column, is: '=' as const, value: asked[column] }],
  );
  if (asked['dueBefore'] !== undefined) where.push({ column: 'due_on', is: '<', value: asked['dueBefore'] });
  if (asked['pastLimit'] !== undefined)
    where.push({
      column: 'action_chance_30d',
      is: asked['pastLimit'] === true ? '>=' : '<',
      value: overLimitChance,
    });
  if (typeof asked['bbox'] === 'string') {
    const [west = -180, south = -90, east = 180, north = 90] = asked['bbox'].split(',').map(Number);
    where.push(
      { column: 'latitude', is: '>=', value: south },
      { column: 'latitude', is: '<=', value: north },
      { column: 'longitude', is: '>=', value: west },
      { column: 'longitude', is: '<=', value: east },
    );
  }
  return where;
}
