import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import { finishWorkOrder, startWorkOrder } from '../actions/attempts.js';
import type { House, Stores } from '../actions/house.js';
import { type AskedWork, changeWorkOrder, makeWorkOrder, unpriced } from '../actions/makeWorkOrder.js';
import { worksOnOrder } from '../actions/mayWorkOn.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { settleHeldFinishes } from '../actions/sync/heldFinishes.js';
import { need } from '../actions/sync/needs.js';
import { takeId } from '../actions/takeId.js';
import { joinOrders, ordersAlready } from '../actions/workLife/joinOrders.js';
import { FOLLOWING, type Following, withdrawWorkOrder } from '../actions/workLife/withdrawal.js';
import { CALLERS, type Role, WORK_ORDER_CAUSES, WORK_ORDER_STATES } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, id, instant, reason, refusals, text } from './shapes.js';
import { settleForOthers } from './syncRoutes.js';
import {
  askedBody,
  endOf,
  finishBody,
  orderPatch,
  orderView,
  viewOrder,
  viewWholeOrder,
  wholeOrderView,
} from './workOrderShapes.js';
import { versionAsked, write } from './writes.js';

const short = z
  .object({ id: z.uuid(), number: z.number().int(), state: z.enum(WORK_ORDER_STATES) })
  .meta({ id: 'ShortWorkOrder' });
const shortOrder = ({ id, number, state }: Row) => ({ id, number, state });
const withdrawnView = orderView
  .extend({ followed: z.array(short).describe('work that followed it, as it is now') })
  .meta({ id: 'WithdrawnWorkOrder' });

const madeOrderView = wholeOrderView
  .extend({
    warnings: z
      .array(reason)
      .describe('other work ahead at the house, to be joined: POST …/joining; work no care terms cover'),
  })
  .meta({ id: 'MadeWorkOrder' });

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const finishedView = orderView
  .extend({
    conflictIds: z
      .array(z.uuid())
      .describe(
        'ends of this visit that phones had sent, that waited and say otherwise: kept for a person, see /v1/conflicts',
      ),
  })
  .meta({ id: 'FinishedWorkOrder' });

/** Work orders: by state and date, asked for by hand, changed, withdrawn, started and finished. */
export function registerWorkOrderRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;

  app.get(
    '/v1/work-orders',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listWorkOrders',
        summary: 'Work orders by state and date (Accept: text/csv: as CSV)',
        tags: ['work-orders'],
        querystring: listQuery({
          filters: {
            state: z.enum(WORK_ORDER_STATES).optional(),
            cause: z.enum(WORK_ORDER_CAUSES).optional(),
            siteId: id.optional(),
            wantedByFrom: day.optional(),
            wantedByTo: day.optional(),
          },
          sorts: ['wantedBy', 'number'],
        }),
        response: { 200: pageAnswer(orderView, 'WorkOrderPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['state', 'cause', 'siteId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['wantedByFrom'] !== undefined)
        where.push({ column: 'wanted_by', is: '>=', value: asked['wantedByFrom'] });
      if (asked['wantedByTo'] !== undefined)
        where.push({ column: 'wanted_by', is: '<=', value: asked['wantedByTo'] });
      const ask = pageAskOf(asked, where, {
        list: 'work-orders',
        columnOf: snake,
        searchColumns: [],
        defaultSort: 'wantedBy',
      });
      return answerList(house, request, reply, ask, {
        table: 'work_order',
        item: orderView,
        views: (rows) => rows.map(viewOrder),
      });
    },
  );

  const mayTake = async (actor: Actor, id: string): Promise<boolean> => {
    const order = await stores.rows.get('work_order', id);
    return order !== null && worksOnOrder(house, stores, actor, order, house.clock.now().toISOString());
  };
  app.get(
    '/v1/work-orders/:id',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getWorkOrder',
        summary:
          'One work order with tasks, what it waits for, promises and attempts; a technician: the own ones',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        response: { 200: wholeOrderView, ...refusals(404) },
      },
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const { actor } = request;
      if (!actor.roles.some((role) => OFFICE.includes(role))) {
        const isOwn = actor.memberId !== null && (await stores.work.isOrderOf(actor.memberId, id));
        if (!isOwn && !(await mayTake(actor, id)))
          throw new Refused({ code: 'not-found', resource: 'work_order', id });
      }
      const whole = await wholeOrder(stores, id);
      return reply.header('etag', `"${whole.version}"`).send(whole);
    },
  );

  app.post(
    '/v1/work-orders',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'createWorkOrder',
        summary: 'Ask for a visit by hand; digging tasks make it wait for a locate ticket',
        tags: ['work-orders'],
        body: askedBody,
        response: { 201: madeOrderView, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) => {
      const body = request.body as z.infer<typeof askedBody>;
      const id = body.id?.toLowerCase() ?? newId();
      return write(house, request, reply, async (inside) => {
        const isNew = body.id === undefined || (await takeId(inside, 'work_order', id, body));
        if (isNew)
          await makeWorkOrder(
            inside,
            request.actor,
            id,
            askedWork(body),
            house.zone.dayOf(house.clock.now()),
          );
        const whole = await wholeOrder(inside, id);
        const order = (await inside.rows.get('work_order', id)) ?? {};
        const warnings = isNew
          ? [...(await ordersAlready(inside, order)), ...unpriced(order, askedWork(body))]
          : [];
        return {
          status: 201,
          body: { ...whole, warnings },
          headers: { etag: `"${whole.version}"`, location: `/v1/work-orders/${id}` },
        };
      });
    },
  );

  app.patch(
    '/v1/work-orders/:id',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'changeWorkOrder',
        summary: 'Change dates, people, kit, price or note of work that has not begun (If-Match)',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: orderPatch,
        response: { 200: wholeOrderView, ...refusals(404, 409, 412, 415, 422, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const change = Object.fromEntries(
          Object.entries(request.body as object).map(([key, value]) => [snake(key), value]),
        );
        await changeWorkOrder(inside, id, change, (version) =>
          versionAsked(request, 'work_order', id, version),
        );
        const whole = await wholeOrder(inside, id);
        return { status: 200, body: whole, headers: { etag: `"${whole.version}"` } };
      }),
  );

  app.post(
    '/v1/work-orders/:id/withdrawal',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'withdrawWorkOrder',
        summary: 'The work is not wanted any more; what follows it goes with it, or is kept',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: z
          .strictObject({
            because: text(500),
            following: z
              .enum(FOLLOWING)
              .optional()
              .describe('the next parts of a dig and its restoration; withdrawn where nothing is said'),
          })
          .meta({ id: 'WorkOrderWithdrawal' }),
        response: { 200: withdrawnView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const { because, following } = request.body as { because: string; following?: Following };
        const { order, followed } = await withdrawWorkOrder(inside, id, because, following ?? 'withdraw');
        return { status: 200, body: { ...viewOrder(order), followed: followed.map(shortOrder) } };
      }),
  );

  app.post(
    '/v1/work-orders/:id/joining',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'joinWorkOrders',
        summary:
          'Two orders of one house become one visit: the tasks go over, the order that went is withdrawn',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: z.strictObject({ into: id.describe('the order that stays') }).meta({ id: 'WorkOrderJoining' }),
        response: { 200: wholeOrderView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const { into } = request.body as { into: string };
        await joinOrders(house, inside, request.actor, id, into.toLowerCase());
        return { status: 200, body: await wholeOrder(inside, into.toLowerCase()) };
      }),
  );

  app.post(
    '/v1/work-orders/:id/start',
    {
      config: { roles: ['technician', 'dispatcher', 'owner'] },
      schema: {
        operationId: 'startWorkOrder',
        summary: 'The crew is on site',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: z
          .strictObject({
            startedAt: instant,
            cautionsSeen: z.boolean().optional().describe('one tap: the cautions of this stop were seen'),
          })
          .meta({ id: 'AttemptStart' }),
        response: { 200: orderView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const { startedAt, cautionsSeen } = request.body as { startedAt: string; cautionsSeen?: boolean };
        return {
          status: 200,
          body: viewOrder(
            await startWorkOrder(
              house,
              inside,
              request.actor,
              id,
              new Date(startedAt).toISOString(),
              cautionsSeen === true,
            ),
          ),
          afterwards: () => settleForOthers(house, request, [need('start', id)]),
        };
      }),
  );

  app.post(
    '/v1/work-orders/:id/finish',
    {
      config: { roles: ['technician', 'dispatcher', 'owner'] },
      schema: {
        operationId: 'finishWorkOrder',
        summary: 'What came of the visit',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: finishBody,
        response: { 200: finishedView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const body = request.body as z.infer<typeof finishBody>;
        const end = endOf(body);
        const order = await finishWorkOrder(house, inside, request.actor, id, end);
        const { conflictIds, heldIds } = await settleHeldFinishes(house, inside, request.actor, id, end);
        return {
          status: 200,
          body: { ...viewOrder(order), conflictIds },
          afterwards: () =>
            settleForOthers(
              house,
              request,
              heldIds.map((held) => need('item', held)),
            ),
        };
      }),
  );
}

/** An order with tasks, preconditions, promises and attempts, as it is answered. */
export async function wholeOrder(stores: Stores, id: string) {
  const order = await stores.rows.get('work_order', id);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id });
  const of = (table: string, sort: string) =>
    stores.rows.all(table, [{ column: 'work_order_id', is: '=', value: id }], sort);
  return viewWholeOrder({
    order,
    tasks: await of('work_order_task', 'position'),
    // What is open first: of a kind there may be one met and one open.
    preconditions: (await of('precondition', 'created_at')).sort(
      (a, b) => Number(b['state'] === 'open') - Number(a['state'] === 'open'),
    ),
    promises: await of('promise', 'told_at'),
    attempts: await of('attempt', 'started_at'),
  });
}

const askedWork = (body: z.infer<typeof askedBody>): AskedWork => ({
  siteId: body.siteId,
  cause: body.cause ?? 'asked',
  because: body.because,
  tasks: body.tasks.map(({ kind, lineId, pitId, minutes }) => ({
    kind,
    lineId: lineId ?? null,
    pitId: pitId ?? null,
    minutes: minutes ?? null,
  })),
  notBefore: body.notBefore ?? null,
  wantedBy: body.wantedBy ?? null,
  respondBy: body.respondBy ?? null,
  people: body.people ?? null,
  kit: body.kit ?? null,
  priceBasis: body.priceBasis ?? null,
  priceMinor: body.priceMinor ?? null,
  followsId: body.followsId ?? null,
  followsAfterDays: body.followsAfterDays ?? 0,
  returnsForId: body.returnsForId ?? null,
  note: body.note ?? null,
});
