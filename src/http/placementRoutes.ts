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
import { day, id, instant, queryNumber, reason, refusals, text, timeOfDay } from './shapes.js';
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
const onCallFacts = z
  .object({
    people: z.array(
      z.object({
        memberId: z.uuid(),
        name: z.string(),
        phone: z.string().nullable(),
        turn: z.number().int().nullable().describe('null: called out without one'),
        calledOut: z.boolean(),
      }),
    ),
    peopleNeeded: z.number().int(),
    backAt: instant,
    nextShift: z
      .object({
        day,
        startsAt: instant,
        restSeconds: z.number().int().describe('below zero: it has begun before the crew is back'),
        wantedRestSeconds: z.number().int().describe('setting calls.restHours'),
        becomesAt: instant.nullable().describe('null: the rest lasts to its end and beyond'),
        before: z
          .array(z.object({ workOrderId: z.uuid(), number: z.number().int(), startsAt: instant }))
          .describe('visits of that shift that stand before then'),
      })
      .nullable()
      .describe('null: none in the coming week'),
  })
  .meta({ id: 'OnCallFacts', description: 'What sending a crew out of its shift means.' });
const consequence = z
  .object({
    crewId: z.uuid(),
    crewName: z.string(),
    day,
    before: figures.nullable(),
    after: figures,
    late: z.array(z.object({ workOrderId: z.uuid(), lateSeconds: z.number().int(), promised: z.boolean() })),
    warnings: z.array(reason).describe('what is unwise about it, in sentences'),
    onCall: onCallFacts
      .nullable()
      .describe('out of the shift: who goes, and what becomes of the next one; null: it is within'),
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
        onCall: z
          .boolean()
          .describe('out of its shift, by whoever is on call: send onCall with the placement'),
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
  .meta({
    id: 'OfferedPlaces',
    description:
      'Cheapest first, at most one a crew and day. For a call that no shift comes to in time, crews on call stand first.',
  });

const placement = z
  .strictObject({
    crewId: id,
    day,
    onCall: z
      .boolean()
      .optional()
      .describe('true: out of its shift, as a place with onCall was offered; the crew is told at once'),
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
        description:
          'For a call that no shift comes to in time, crews on call stand first, late ones too: when they would be there, what overtime it costs, who must be phoned (too_few_on_call), what of their rest it breaks and what their next shift becomes.',
        tags: ['plans'],
        params: byId,
        querystring: z.strictObject({
          days: queryNumber(z.number().int().min(1).max(14))
            .optional()
            .describe('calendar days ahead; absent: 7'),
        }),
        response: { 200: placesView, ...refusals(404, 409) },
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
          'If-Match is the version of the order that its places or the order itself came with; a try needs none. A call at night, on a Sunday or a holiday goes to who is on call or was called out (onCall): from the call on, all of it overtime, on a route of its own beside those of the shifts, told to the crew at once. Plans for the shifts leave it alone and keep to the rest after it; undoing, withdrawing or moving the order takes it away again.',
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
          onCall,
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
          {
            crewId,
            day: on,
            onCall: onCall === true,
            afterWorkOrderId,
            displaces: displaces ?? [],
            tryOnly: tryOnly === true,
          },
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
          'By the plan that the placement answered with, as long as nothing has happened on those routes since. The undoing is a plan of its own and can be undone too. An order that had left a shift for whoever is on call has its old place again where that route still stands; else it waits, and a warning (old_place_gone) says so.',
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
