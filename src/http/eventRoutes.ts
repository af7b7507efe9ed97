import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Actor, Condition } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { tellLate, tellOnTheWay } from '../actions/telling/coming.js';
import { keepsEndpoint } from '../actions/telling/webhookEndpoints.js';
import { EVENT_TYPES, type Role } from '../domain/words.js';
import { eventView, onTheWayBody, runningLateBody, viewEvent } from './eventShapes.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { id, instant, refusals } from './shapes.js';
import { write } from './writes.js';

const READERS: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];
const byId = z.strictObject({ id });

const SUBJECTS = ['siteId', 'workOrderId', 'routeId', 'crewId', 'lineId'];
const COLUMNS: Record<string, string> = { type: 'kind', at: 'created_at' };

/** What happened, for who asks; and what a crew says of its way with one tap. */
export function registerEventRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;

  app.get(
    '/v1/events',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'listEvents',
        summary: 'What happened that others may want to hear, the newest first (Accept: text/csv: as CSV)',
        tags: ['events'],
        querystring: listQuery({
          filters: {
            type: z.enum(EVENT_TYPES).optional(),
            ...Object.fromEntries(SUBJECTS.map((name) => [name, id.optional()])),
            atFrom: instant.optional(),
            atTo: instant.optional(),
          },
          sorts: ['at'],
          search: true,
        }),
        response: { 200: pageAnswer(eventView, 'EventPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const columnOf = (field: string) => COLUMNS[field] ?? snake(field);
      const where: Condition[] = ['type', ...SUBJECTS].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: columnOf(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['atFrom'] !== undefined)
        where.push({ column: 'created_at', is: '>=', value: asked['atFrom'] });
      if (asked['atTo'] !== undefined) where.push({ column: 'created_at', is: '<=', value: asked['atTo'] });
      const ask = pageAskOf(asked, where, {
        list: 'events',
        columnOf,
        searchColumns: ['text'],
        defaultSort: '-at',
      });
      ask.where.push(...(await notOfOthers(house, request.actor)));
      return answerList(house, request, reply, ask, {
        table: 'event',
        item: eventView,
        views: (rows) => rows.map(viewEvent),
      });
    },
  );

  app.get(
    '/v1/events/:id',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'getEvent',
        summary: 'One event',
        tags: ['events'],
        params: byId,
        response: { 200: eventView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const row = await stores.rows.get('event', id);
      const others = await endpointsOfOthers(house, request.actor);
      if (!row || others.includes(String(row['subject_id'])))
        throw new Refused({ code: 'not-found', resource: 'event', id });
      return viewEvent(row);
    },
  );

  app.post(
    '/v1/work-orders/:id/on-the-way',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'tellOnTheWay',
        summary: 'The crew has left for it: one tap; who waits there is told once a day',
        tags: ['work-orders'],
        params: byId,
        body: onTheWayBody,
        response: { 200: eventView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { leftAt, expectedAt } = request.body as z.infer<typeof onTheWayBody>;
        const { id } = request.params as { id: string };
        const said = { leftAt, expectedAt: expectedAt ?? null };
        return { status: 200, body: viewEvent(await tellOnTheWay(house, inside, request.actor, id, said)) };
      }),
  );

  app.post(
    '/v1/work-orders/:id/running-late',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'tellRunningLate',
        summary:
          'The crew will be late; promised visits behind a stop that takes too long are found without being told',
        tags: ['work-orders'],
        params: byId,
        body: runningLateBody,
        response: { 200: eventView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { expectedAt, because } = request.body as z.infer<typeof runningLateBody>;
        const { id } = request.params as { id: string };
        const said = {
          saidAt: house.clock.now().toISOString(),
          expectedAt,
          because: because ?? null,
        };
        return { status: 200, body: viewEvent(await tellLate(house, inside, request.actor, id, said)) };
      }),
  );
}

/** What happened to an endpoint is for who keeps it: the others' endpoints, whose events are not told to the actor. */
async function endpointsOfOthers({ stores }: House, actor: Actor): Promise<string[]> {
  if (actor.roles.includes('owner')) return [];
  const endpoints = await stores.rows.all('webhook_endpoint', []);
  return endpoints.filter((each) => !keepsEndpoint(actor, each)).map((each) => String(each['id']));
}

const notOfOthers = async (house: House, actor: Actor): Promise<Condition[]> =>
  (await endpointsOfOthers(house, actor)).map((value) => ({ column: 'subject_id', is: '<>', value }));
