import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { takeId } from '../actions/takeId.js';
import {
  changeEndpoint,
  createEndpoint,
  endpointOf,
  keepsEndpoint,
  keptBy,
  refuseUrl,
  replayDelivery,
  rotateSecret,
  sendTestEvent,
  type UrlRule,
} from '../actions/telling/webhookEndpoints.js';
import { DELIVERY_STATES, type Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { id, refusals } from './shapes.js';
import {
  deliveryView,
  endpointPatch,
  endpointView,
  endpointWithSecret,
  newEndpoint,
  viewDelivery,
  viewEndpoint,
} from './webhookShapes.js';
import { versionAsked, write } from './writes.js';

const KEEPERS: readonly Role[] = ['owner', 'integration'];
const byId = z.strictObject({ id });
const etag = (row: Row) => ({ etag: `"${row['version']}"` });

/** What its maker sent a second time; an id that another made one of is taken. */
async function ownAgain(stores: Stores, actor: Actor, id: string): Promise<Row> {
  const row = await stores.rows.get('webhook_endpoint', id);
  if (row && keepsEndpoint(actor, row)) return endpointOf(stores, actor, id);
  throw new Refused({ code: 'id-taken', resource: 'webhook_endpoint', id });
}

/** Webhooks: where events are sent to, and what became of each. */
export function registerWebhookRoutes(app: FastifyInstance, house: House, mayCall: UrlRule): void {
  registerEndpoints(app, house, mayCall);
  registerEndpointActs(app, house);
  registerDeliveries(app, house);
}

function registerEndpoints(app: FastifyInstance, house: House, mayCall: UrlRule): void {
  const tags = ['webhooks'];
  app.get(
    '/v1/webhook-endpoints',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'listWebhookEndpoints',
        summary: 'Where events are sent to, oldest first: your own endpoints; to the owner, all',
        tags,
        response: {
          200: z.object({ items: z.array(endpointView) }).meta({ id: 'WebhookEndpointList' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const inUse: Condition[] = [{ column: 'archived_on', is: 'null' }, ...keptBy(request.actor)];
      return { items: (await house.stores.rows.all('webhook_endpoint', inUse)).map(viewEndpoint) };
    },
  );

  app.post(
    '/v1/webhook-endpoints',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'createWebhookEndpoint',
        summary: 'Have events sent to an https:// address; answers the signing secret, once',
        tags,
        body: newEndpoint,
        response: { 201: endpointWithSecret, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof newEndpoint>;
        refuseUrl(mayCall, body.url);
        const endpointId = body.id ?? newId();
        const isNew = body.id === undefined || (await takeId(stores, 'webhook_endpoint', endpointId, body));
        const made = isNew
          ? await createEndpoint(stores, request.actor, { ...body, id: endpointId, note: body.note ?? null })
          : { row: await ownAgain(stores, request.actor, endpointId), secret: null };
        const view = viewEndpoint(made.row);
        return {
          status: 201,
          body: { ...view, secret: made.secret },
          bodyAgain: { ...view, secret: null },
          headers: { ...etag(made.row), location: `/v1/webhook-endpoints/${endpointId}` },
        };
      }),
  );

  app.get(
    '/v1/webhook-endpoints/:id',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'getWebhookEndpoint',
        summary: 'One endpoint, without its secret',
        tags,
        params: byId,
        response: { 200: endpointView, ...refusals(404) },
      },
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const row = await house.stores.rows.get('webhook_endpoint', id);
      if (!row || row['archived_on'] !== null || !keepsEndpoint(request.actor, row))
        throw new Refused({ code: 'not-found', resource: 'webhook_endpoint', id });
      return reply.headers(etag(row)).send(viewEndpoint(row));
    },
  );

  app.patch(
    '/v1/webhook-endpoints/:id',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'changeWebhookEndpoint',
        summary: 'Change address or events, or switch it on or off (If-Match: the ETag you read)',
        description:
          'Another address brings a new signing secret, shown once; the one before signs no more, and the owner is told. What happened while it was off is not sent later: read it from the events.',
        tags,
        params: byId,
        body: endpointPatch,
        response: { 200: endpointWithSecret, ...refusals(403, 404, 412, 415, 422, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const row = await endpointOf(stores, request.actor, id);
        versionAsked(request, 'webhook_endpoint', id, Number(row['version']));
        const patch = request.body as z.infer<typeof endpointPatch>;
        if (patch.url !== undefined) refuseUrl(mayCall, patch.url);
        const changed = await changeEndpoint(stores, request.actor, row, patch);
        return {
          status: 200,
          body: { ...viewEndpoint(changed.row), secret: changed.secret },
          headers: etag(changed.row),
        };
      }),
  );

  app.delete(
    '/v1/webhook-endpoints/:id',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'removeWebhookEndpoint',
        summary: 'Nothing is sent there any more; what was sent stays on record',
        tags,
        params: byId,
        response: { 204: z.null().describe('Removed.'), ...refusals(404) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        await endpointOf(stores, request.actor, id);
        const archived = { archived_on: house.zone.dayOf(house.clock.now()) };
        await stores.rows.update('webhook_endpoint', id, archived);
        await stores.post.failWaiting(id, 'the endpoint was removed');
        return { status: 204, body: null };
      }),
  );
}

function registerEndpointActs(app: FastifyInstance, house: House): void {
  const tags = ['webhooks'];
  app.post(
    '/v1/webhook-endpoints/:id/secret-rotation',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'rotateWebhookSecret',
        summary: 'A new signing secret, shown once; for 24 hours the old one signs as well',
        tags,
        params: byId,
        response: { 200: endpointWithSecret, ...refusals(404, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const { row, secret } = await rotateSecret(stores, request.actor, id);
        const view = viewEndpoint(row);
        return { status: 200, body: { ...view, secret }, bodyAgain: { ...view, secret: null } };
      }),
  );

  app.post(
    '/v1/webhook-endpoints/:id/test-event',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'sendTestEvent',
        summary: 'Send a test event there now; the answer tells the delivery to look at',
        tags,
        params: byId,
        response: { 202: deliveryView, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        return {
          status: 202,
          body: viewDelivery(await sendTestEvent(stores, request.actor, id), request.actor),
        };
      }),
  );
}

function registerDeliveries(app: FastifyInstance, house: House): void {
  const tags = ['webhooks'];
  app.get(
    '/v1/webhook-deliveries',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'listWebhookDeliveries',
        summary: 'What was sent where, with its last answer, the newest first (Accept: text/csv: as CSV)',
        tags,
        querystring: listQuery({
          filters: {
            endpointId: id.optional(),
            eventId: id.optional(),
            state: z.enum(DELIVERY_STATES).optional(),
          },
          sorts: ['createdAt'],
        }),
        response: { 200: pageAnswer(deliveryView, 'WebhookDeliveryPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['endpointId', 'eventId', 'state'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      const kept = keptBy(request.actor);
      if (kept.length > 0) {
        const own = await house.stores.rows.all('webhook_endpoint', kept);
        where.push({ column: 'endpoint_id', is: 'in', value: own.map((row) => String(row['id'])) });
      }
      const ask = pageAskOf(asked, where, {
        list: 'webhook-deliveries',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'webhook_delivery',
        item: deliveryView,
        views: (rows) => rows.map((row) => viewDelivery(row, request.actor)),
      });
    },
  );

  app.post(
    '/v1/webhook-deliveries/:id/replay',
    {
      config: { roles: KEEPERS },
      schema: {
        operationId: 'replayWebhookDelivery',
        summary: 'Send one event to one endpoint again, with the same webhook-id',
        tags,
        params: byId,
        response: { 202: deliveryView, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        return {
          status: 202,
          body: viewDelivery(await replayDelivery(stores, request.actor, id), request.actor),
        };
      }),
  );
}
