import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { dayPicture } from '../actions/plans/dayPicture.js';
import { Refused } from '../actions/problems.js';
import { CALLERS, type Role } from '../domain/words.js';
import { dayStrip } from '../papers/dayStrip.js';
import { type MappedDay, routesGeoJson } from '../papers/routesGeoJson.js';
import { routesMap } from '../papers/routesMap.js';
import { routesSheet } from '../papers/routesSheet.js';
import { day, id, refusals } from './shapes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const asked = z.strictObject({
  day,
  crewId: id.optional(),
  planId: id.optional().describe("a plan's routes instead of what crews drive; for the office"),
});
const askedPicture = asked.extend({
  part: z.enum(['sheet', 'map', 'hours']).optional().describe('absent: the map with the hours under it'),
  units: z.enum(['metric', 'us']).optional(),
});
type Asked = z.infer<typeof askedPicture>;

const position = z.array(z.number()).min(2).max(2).describe('longitude, latitude');
const geoJson = z
  .object({
    type: z.literal('FeatureCollection'),
    features: z.array(
      z.object({
        type: z.literal('Feature'),
        geometry: z.union([
          z.object({ type: z.literal('Point'), coordinates: position }),
          z.object({ type: z.literal('LineString'), coordinates: z.array(position) }),
        ]),
        properties: z.record(z.string(), z.unknown()),
      }),
    ),
  })
  .meta({ id: 'RoutesGeoJson', description: 'RFC 7946. A line per crew, a point per stop and depot.' });

/** A day's routes as GeoJSON, map and hours; a technician gets the own crew's. */
export function registerRoutePictureRoutes(app: FastifyInstance, house: House): void {
  /** The routes asked for, as far as the caller may see them. */
  async function pictureFor(request: FastifyRequest): Promise<MappedDay> {
    const { day: on, crewId, planId, units } = request.query as Asked;
    const { actor } = request;
    const ask = { day: on, planId: planId ?? null, crewId: crewId ?? null, units: units ?? house.units };
    if (actor.roles.some((role) => OFFICE.includes(role))) return dayPicture(house, ask);
    const own = actor.memberId === null ? null : await house.stores.work.crewOf(actor.memberId, on);
    if (planId !== undefined)
      throw new Refused({
        code: 'not-yours',
        resource: 'plan',
        id: planId,
        detail: 'Proposals are for the office; leave planId out for what your crew drives.',
      });
    if (own === null || (crewId !== undefined && crewId !== own))
      return { day: on, units: ask.units, routes: [] };
    return dayPicture(house, { ...ask, crewId: own });
  }

  app.get(
    '/v1/routes.geojson',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'mapRoutes',
        summary: "A day's routes as GeoJSON: a line per crew, a point per stop and depot",
        tags: ['routes'],
        querystring: asked,
        response: { 200: geoJson, ...refusals(403, 404) },
      },
    },
    async (request, reply) =>
      reply.type('application/geo+json').send(routesGeoJson(await pictureFor(request))),
  );

  app.get(
    '/v1/routes.svg',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'drawRoutes',
        summary: "A day's routes as a picture (SVG): the map, and under it the hours of each crew, to print",
        tags: ['routes'],
        querystring: askedPicture,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals(403, 404) },
      },
    },
    async (request, reply) => {
      const picture = await pictureFor(request);
      const { part } = request.query as Asked;
      const draw = part === 'map' ? routesMap : part === 'hours' ? dayStrip : routesSheet;
      return reply.type('image/svg+xml').serializer(String).send(draw(picture));
    },
  );
}
