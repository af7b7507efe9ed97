import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { type LockAsk, lockOrder, unlockOrder } from '../actions/plans/lockOrder.js';
import { offerPlaces, placeOrder } from '../actions/plans/placeOrder.js';
import type { TravelTable } from '../actions/plans/planTools.js';
import { undoPlacement } from '../actions/plans/undoPlacement.js';
import type { Row } from '../actions/ports.js';
import type { Role } from '../domain/words.js';
import { displacedView, toPhoneView } from './planShapes.js';
import { day, id, instant, reason, refusals, text, timeOfDay } from './shapes.js';
import { orderLockView, viewOrderLock } from './workOrderShapes.js';
import { versionAsked, write } from './writes.js';

const PLANNERS: readonly Role[] = ['dispatcher', 'owner'];
const byId = z.strictObject({ id });
const DAYS_AHEAD = 7;

const figures = z.object({
  driveSeconds: z.number().int(),
  driveMetres: z.number().int(),
  overtimeSeconds: z.number().int(),
  overtimeCostMinor: z.number().int(),
  idleSeconds: z
    .number()
    .int()
    .describe('from the start of the shift, or from when the crew is free, until it leaves'),
  waitSeconds: z.number().int().describe('at stops that may not begin yet'),
  leavesAt: instant,
  endsAt: instant,
  stops: z.number().int(),
});
const consequence = z
  .object({
    crewId: z.uuid(),
    crewName: z.string(),
    day,
    before: figures.nullable(),
    after: figures,
    late: z.array(z.object({ workOrderId: z.uuid(), lateSeconds: z.number().int(), promised: z.boolean() })),
    warnings: z.array(reason).describe('what is unwise about it, in sentences'),
  })
  .meta({
    id: 'Consequence',
    description:
      'What a change does to one crew’s day: driving, overtime, waiting, and stops that come late.',
  });

const placesView = z
  .object({
    places: z.array(
      z.object({
        crewId: z.uuid(),
        crewName: z.string(),
        day,
        afterWorkOrderId: z.uuid().nullable(),
        startsAt: instant,
        extraCostMinor: z.number(),
        displaces: z.array(displacedView),
        consequence,
      }),
    ),
    nowhere: reason.nullable().describe('where there is no place: the reason that a plan would give'),
    version: z.number().int().describe('of the order: send it as If-Match with the placement'),
    warnings: z.array(reason),
  })
  .meta({ id: 'OfferedPlaces', description: 'Cheapest first, at most one a crew and day.' });

const placement = z
  .strictObject({
    crewId: id,
    day,
    afterWorkOrderId: id.nullable().describe('null: first of what is still ahead'),
    displaces: z.array(id).max(20).optional().describe('orders of that route that give way'),
    tryOnly: z.boolean().optional().describe('true: look at the consequences, change nothing'),
  })
  .meta({ id: 'Placement' });
const placedView = z
  .object({
    planId: z.uuid().nullable().describe('the plan on record that did it; null: only tried'),
    version: z.number().int().describe('of the order now'),
    consequences: z.array(consequence),
    displaced: z.array(z.uuid()),
    toPhone: z.array(toPhoneView),
    warnings: z.array(reason),
  })
  .meta({ id: 'Placed' });

const lockBody = z
  .strictObject({
    day: day.optional(),
    crewId: id.optional(),
    from: timeOfDay.optional(),
    to: timeOfDay.optional(),
    sequence: z.literal(true).optional().describe('keep its place in the sequence of its live route'),
    because: text(300).optional().describe('why, for who reads it later'),
  })
  .meta({ id: 'OrderLock', description: 'Parts to keep; none: the day and crew of its live route.' });
const lockView = z
  .object({
    workOrderId: z.uuid(),
    lock: orderLockView.nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'LockedOrder' });

const viewLock = (r: Row) => ({ workOrderId: r['id'], lock: viewOrderLock(r), version: r['version'] });

/** Where an order could go, putting it there by hand, and holding it there. */
export function registerPlacementRoutes(app: FastifyInstance, house: House, travel: TravelTable): void {
  app.get(
    '/v1/work-orders/:id/places',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'offerPlaces',
        summary:
          'The three cheapest places of an order among what crews drive from now on, and what each displaces',
        tags: ['plans'],
        params: byId,
        querystring: z.strictObject({
          days: z.coerce.number().int().min(1).max(14).optional().describe('calendar days ahead; absent: 7'),
        }),
        response: { 200: placesView, ...refusals(404, 409, 422) },
      },
    },
    async (request, reply) => {
      const { days } = request.query as { days?: number };
      const { id: orderId } = request.params as { id: string };
      const offer = await offerPlaces(house, house.stores, travel, orderId, days ?? DAYS_AHEAD);
      return reply.header('etag', `"${offer.version}"`).send(offer);
    },
  );

  app.post(
    '/v1/work-orders/:id/placement',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'placeWorkOrder',
        summary:
          'Place an order, or move it, by hand (If-Match); late stops, overtime and driving come back, and what is unwise in words',
        description:
          'If-Match is the version of the order that its places or the order itself came with; a try needs none.',
        tags: ['plans'],
        params: byId,
        body: placement,
        response: { 200: placedView, ...refusals(404, 409, 412, 415, 422, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const {
          crewId,
          day: on,
          afterWorkOrderId,
          displaces,
          tryOnly,
        } = request.body as z.infer<typeof placement>;
        const { id: orderId } = request.params as { id: string };
        const placed = await placeOrder(
          house,
          stores,
          travel,
          request.actor,
          orderId,
          { crewId, day: on, afterWorkOrderId, displaces: displaces ?? [], tryOnly: tryOnly === true },
          (version) => versionAsked(request, 'work_order', orderId, version),
        );
        return { status: 200, body: placed, headers: { etag: `"${placed.version}"` } };
      }),
  );

  app.post(
    '/v1/plans/:id/undoing',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'undoPlacement',
        summary: 'Undo a placement by hand: the routes it touched are driven again as they were before',
        description:
          'By the plan that the placement answered with, as long as nothing has happened on those routes since. The undoing is a plan of its own and can be undone too.',
        tags: ['plans'],
        params: byId,
        response: { 200: placedView, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: planId } = request.params as { id: string };
        const undone = await undoPlacement(house, stores, travel, request.actor, planId);
        return { status: 200, body: undone, headers: { etag: `"${undone.version}"` } };
      }),
  );

  app.put(
    '/v1/work-orders/:id/lock',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'lockWorkOrder',
        summary: 'Hold an order to its day, crew, hour or place in the sequence',
        tags: ['plans'],
        params: byId,
        body: lockBody,
        response: { 200: lockView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: orderId } = request.params as { id: string };
        return {
          status: 200,
          body: viewLock(await lockOrder(house, stores, request.actor, orderId, request.body as LockAsk)),
        };
      }),
  );

  app.delete(
    '/v1/work-orders/:id/lock',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'unlockWorkOrder',
        summary: 'Let an order move again',
        tags: ['plans'],
        params: byId,
        response: { 200: lockView, ...refusals(404, 409) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => ({
        status: 200,
        body: viewLock(await unlockOrder(stores, (request.params as { id: string }).id)),
      })),
  );
}
