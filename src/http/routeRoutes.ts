import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { ROLES, type Role, WORK_ORDER_STATES } from '../domain/words.js';
import { day, id, instant, reason, refusals } from './shapes.js';
import { taskView } from './workOrderShapes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const stopView = z
  .object({
    id: z.uuid(),
    position: z.number().int(),
    kind: z.string(),
    arrivesAt: instant,
    startsAt: instant,
    endsAt: instant,
    travelSeconds: z.number().int(),
    travelMetres: z.number().int(),
    locked: z.boolean(),
    workOrder: z
      .object({
        id: z.uuid(),
        number: z.number().int(),
        state: z.enum(WORK_ORDER_STATES),
        minutes: z.number().int(),
        people: z.number().int(),
        kit: z.array(z.string()),
        becauseOf: z.array(reason),
        tasks: z.array(taskView),
      })
      .nullable(),
    site: z
      .object({
        id: z.uuid(),
        address: z.string(),
        town: z.string(),
        latitude: z.number().nullable(),
        longitude: z.number().nullable(),
        access: z.string(),
        accessNotes: z.string().nullable(),
      })
      .nullable(),
    depot: z
      .object({ id: z.uuid(), name: z.string(), latitude: z.number(), longitude: z.number() })
      .nullable()
      .describe('where tanks are filled or emptied'),
  })
  .meta({ id: 'Stop' });
const routeView = z
  .object({
    id: z.uuid(),
    day,
    crewId: z.uuid(),
    crewName: z.string(),
    depotName: z.string(),
    leavesAt: instant.nullable(),
    returnsAt: instant.nullable(),
    driveSeconds: z.number().int(),
    driveMetres: z.number().int(),
    workSeconds: z.number().int(),
    waitSeconds: z.number().int(),
    version: z.number().int(),
    stops: z.array(stopView),
  })
  .meta({ id: 'Route', description: "One crew's ordered stops on one day." });

const viewRoute = (r: Row) => ({
  id: r['id'],
  day: r['day'],
  crewId: r['crew_id'],
  crewName: r['crew_name'],
  depotName: r['depot_name'],
  leavesAt: r['leaves_at'],
  returnsAt: r['returns_at'],
  driveSeconds: r['drive_s'],
  driveMetres: r['drive_m'],
  workSeconds: r['work_s'],
  waitSeconds: r['wait_s'],
  version: r['version'],
  stops: (r['stops'] as Row[]).map((s) => ({
    id: s['id'],
    position: s['position'],
    kind: s['kind'],
    arrivesAt: s['arrives_at'],
    startsAt: s['starts_at'],
    endsAt: s['ends_at'],
    travelSeconds: s['travel_s'],
    travelMetres: s['travel_m'],
    locked: s['locked'],
    workOrder:
      s['work_order_id'] === null
        ? null
        : {
            id: s['work_order_id'],
            number: s['number'],
            state: s['order_state'],
            minutes: s['minutes'],
            people: s['people'],
            kit: s['kit'],
            becauseOf: s['because_of'],
            tasks: s['tasks'],
          },
    site:
      s['site_id'] === null
        ? null
        : {
            id: s['site_id'],
            address: s['address'],
            town: s['town'],
            latitude: s['latitude'],
            longitude: s['longitude'],
            access: s['access'],
            accessNotes: s['access_notes'],
          },
    depot:
      s['depot_id'] === null
        ? null
        : {
            id: s['depot_id'],
            name: s['depot_name'],
            latitude: s['depot_latitude'],
            longitude: s['depot_longitude'],
          },
  })),
});

/** A day's routes: all of them for the office, the own crew's for a technician. */
export function registerRouteRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;

  app.get(
    '/v1/routes',
    {
      config: { roles: ROLES },
      schema: {
        operationId: 'listRoutes',
        summary: "A day's routes; a technician gets the own crew's",
        tags: ['routes'],
        querystring: z.strictObject({ day, crewId: id.optional() }),
        response: { 200: z.object({ items: z.array(routeView) }).meta({ id: 'RouteList' }), ...refusals() },
      },
    },
    async (request) => {
      const asked = request.query as { day: string; crewId?: string };
      const { actor } = request;
      let crewId = asked.crewId ?? null;
      if (!actor.roles.some((role) => OFFICE.includes(role))) {
        const own = actor.memberId === null ? null : await stores.work.crewOf(actor.memberId, asked.day);
        if (own === null || (crewId !== null && crewId !== own)) return { items: [] };
        crewId = own;
      }
      return { items: (await stores.answers.routes(asked.day, crewId)).map(viewRoute) };
    },
  );
}
