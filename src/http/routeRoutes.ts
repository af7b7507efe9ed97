import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { onTheClock } from '../actions/desk/onTheClock.js';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { CALLERS, type Role } from '../domain/words.js';
import { unitsQuery } from './resource.js';
import {
  goneRoute,
  ownCallOut,
  routeTotals,
  routeView,
  totalsOf,
  viewGone,
  viewOwnCallOut,
  viewRoute,
} from './routeShapes.js';
import { day, id, refusals } from './shapes.js';

/** A call-out older than this is no work of tonight. */
const CALL_OUT_DAYS = 3;
const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

/** A day's routes: all of them for the office, the own crew's for a technician. */
export function registerRouteRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;

  app.get(
    '/v1/routes',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listRoutes',
        summary: "A day's routes with their totals; a technician gets the own crew's",
        tags: ['routes'],
        querystring: unitsQuery.extend({ day, crewId: id.optional() }),
        response: {
          200: z
            .object({ items: z.array(routeView), totals: routeTotals, gone: z.array(goneRoute) })
            .meta({ id: 'RouteList' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const asked = request.query as { day: string; crewId?: string; units?: UnitSystem };
      const { actor } = request;
      let crewId = asked.crewId ?? null;
      const inOffice = actor.roles.some((role) => OFFICE.includes(role));
      if (!inOffice) {
        const own = actor.memberId === null ? null : await stores.work.crewOf(actor.memberId, asked.day);
        if (own === null || (crewId !== null && crewId !== own))
          return { items: [], totals: totalsOf([], inOffice), gone: [] };
        crewId = own;
      }
      const midnight = house.zone.instantOf(asked.day, 0).toISOString();
      const live = await stores.answers.routes(asked.day, crewId, midnight);
      const routes = await onTheClock(house, stores, live);
      return {
        items: routes.map((route) => viewRoute(route, asked.units ?? house.units, inOffice)),
        totals: totalsOf(routes, inOffice),
        gone: (await stores.desk.gone(asked.day, crewId)).map(viewGone),
      };
    },
  );

  app.get(
    '/v1/routes/:id',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getRoute',
        summary: "One route with everything needed on site; a technician: the own crew's",
        tags: ['routes'],
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        response: { 200: routeView, ...refusals(404) },
      },
    },
    async (request, reply) => {
      const { units } = request.query as { units?: UnitSystem };
      const route = await routeAsked(house, request);
      const inOffice = request.actor.roles.some((role) => OFFICE.includes(role));
      return reply
        .header('etag', `"${route['version']}"`)
        .send(viewRoute(route, units ?? house.units, inOffice));
    },
  );

  app.get(
    '/v1/own-call-outs',
    {
      config: { roles: ['technician'] },
      schema: {
        operationId: 'listOwnCallOuts',
        summary: 'Orders the caller was called out to of late, each with everything needed on site',
        tags: ['routes'],
        querystring: unitsQuery,
        response: {
          200: z.object({ items: z.array(ownCallOut) }).meta({ id: 'OwnCallOuts' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const { units } = request.query as { units?: UnitSystem };
      const { memberId } = request.actor;
      const now = house.clock.now();
      const since = new Date(now.getTime() - CALL_OUT_DAYS * 86_400_000).toISOString();
      const rows = memberId === null ? [] : await stores.answers.callOuts(memberId, since);
      const today = house.zone.dayOf(now);
      return { items: rows.map((row) => viewOwnCallOut(row, today, units ?? house.units)) };
    },
  );
}

/** The route of the path, as far as the caller may see it. @throws {Refused} `not-found`. */
export async function routeAsked(house: House, request: FastifyRequest): Promise<Row> {
  const { id } = request.params as { id: string };
  const { actor } = request;
  const route = await house.stores.answers.route(id);
  const inOffice = actor.roles.some((role) => OFFICE.includes(role));
  const own =
    route !== null && !inOffice && actor.memberId !== null
      ? await house.stores.work.crewOf(actor.memberId, String(route['day']))
      : null;
  if (!route || !(inOffice || own === route['crew_id']))
    throw new Refused({ code: 'not-found', resource: 'route', id });
  const [told] = await onTheClock(house, house.stores, [route]);
  return told ?? route;
}
