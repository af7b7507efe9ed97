import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { addNote } from '../actions/siteThings.js';
import { type Need, need } from '../actions/sync/needs.js';
import { takeId } from '../actions/takeId.js';
import { recordDanger } from '../actions/workLife/dangers.js';
import { addFoundAccessPoint, addFoundLine } from '../actions/workLife/foundThings.js';
import { acceptPrice } from '../actions/workLife/priceAcceptance.js';
import { recordTaskResult } from '../actions/workLife/taskResults.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake, toView, unitsQuery, viewSchema } from './resource.js';
import { accessPoints, lines } from './resources/all.js';
import { id, instant, refusals } from './shapes.js';
import {
  dangerOf,
  dangerView,
  foundAccessPointOf,
  foundLineOf,
  newDanger,
  newFoundAccessPoint,
  newFoundLine,
  newNote,
  newPriceAcceptance,
  newTaskResult,
  noteOf,
  noteView,
  priceOf,
  taskResultOf,
  viewDanger,
  viewNote,
} from './siteThingShapes.js';
import { settleForOthers } from './syncRoutes.js';
import { taskView, viewTask } from './workOrderShapes.js';
import { write } from './writes.js';

const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];
const byId = z.strictObject({ id });

/** One thing a crew says on site, at an address of its own; `sync` takes the same ones, many at a time. */
interface Said<B extends z.ZodObject> {
  path: string;
  operationId: string;
  summary: string;
  tag: string;
  body: B;
  view: z.ZodType;
  /** Name of what an id is taken for. */
  resource: string;
  /** What an id stands for: the body, and what it is said of. */
  claim: (of: string, body: z.infer<B>) => unknown;
  work: (stores: Stores, actor: Actor, of: string, body: z.infer<B>, id: string) => Promise<unknown>;
  show: (stores: Stores, of: string, id: string, units: UnitSystem, body: z.infer<B>) => Promise<unknown>;
  brings: (id: string) => Need[];
}

function registerSaid<B extends z.ZodObject>(app: FastifyInstance, house: House, said: Said<B>): void {
  app.post(
    said.path,
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: said.operationId,
        summary: said.summary,
        tags: [said.tag],
        ...(said.path.includes(':id') ? { params: byId } : {}),
        querystring: unitsQuery,
        body: said.body,
        response: { 201: said.view, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const of = (request.params as { id?: string }).id ?? '';
        const body = request.body as z.infer<B> & { id?: string };
        const ownId = body.id ?? newId();
        const isNew =
          body.id === undefined || (await takeId(stores, said.resource, ownId, said.claim(of, body)));
        if (isNew) await said.work(stores, request.actor, of, body, ownId);
        const units = (request.query as { units?: UnitSystem }).units ?? house.units;
        return {
          status: 201,
          body: await said.show(stores, of, ownId, units, body),
          afterwards: () => settleForOthers(house, request, [need('item', ownId), ...said.brings(ownId)]),
        };
      }),
  );
}

const priceView = z
  .object({
    workOrderId: z.uuid(),
    taskId: z.uuid().nullable(),
    by: z.string(),
    amountMinor: z.number().int(),
    acceptedAt: instant,
    declined: z.boolean(),
  })
  .meta({ id: 'PriceAcceptance', description: 'Who took which price and when, or did not take it.' });

const ofOrder = (workOrderId: string, body: unknown) => ({ workOrderId, body });
const read = async (stores: Stores, table: string, id: string): Promise<Row> =>
  (await stores.rows.get(table, id)) ?? {};

/** What a crew adds on site: lines and access points found, results of tasks, prices taken, notes. */
export function registerOnSiteRoutes(app: FastifyInstance, house: House): void {
  registerSaid(app, house, {
    path: '/v1/work-orders/:id/found-lines',
    operationId: 'addFoundLine',
    summary: 'A line nobody knew of, unconfirmed until the office looked at it',
    tag: 'work-orders',
    body: newFoundLine,
    view: viewSchema(lines),
    resource: 'line',
    claim: ofOrder,
    work: (stores, actor, of, body, lineId) =>
      addFoundLine(house, stores, actor, foundLineOf(body, of, lineId)),
    show: async (stores, _of, lineId, units) => toView(lines, await read(stores, 'line', lineId), units),
    brings: (lineId) => [need('line', lineId)],
  });
  registerSaid(app, house, {
    path: '/v1/work-orders/:id/found-access-points',
    operationId: 'addFoundAccessPoint',
    summary: 'Where one can get in or look, unconfirmed until the office looked at it',
    tag: 'work-orders',
    body: newFoundAccessPoint,
    view: viewSchema(accessPoints),
    resource: 'access_point',
    claim: ofOrder,
    work: (stores, actor, of, body, pointId) =>
      addFoundAccessPoint(house, stores, actor, foundAccessPointOf(body, of, pointId)),
    show: async (stores, _of, pointId, units) =>
      toView(accessPoints, await read(stores, 'access_point', pointId), units),
    brings: () => [],
  });
  registerSaid(app, house, {
    path: '/v1/work-orders/:id/price-acceptances',
    operationId: 'acceptPrice',
    summary: 'Who took which price and when, or declined it: of a task, or of the order as its quote',
    tag: 'work-orders',
    body: newPriceAcceptance,
    view: priceView,
    resource: 'price_acceptance',
    claim: ofOrder,
    work: (stores, actor, of, body, priceId) => acceptPrice(house, stores, actor, priceOf(body, of, priceId)),
    show: async (_stores, of, _id, _units, body) => ({
      workOrderId: of,
      taskId: body.taskId ?? null,
      by: body.by,
      amountMinor: body.amountMinor,
      acceptedAt: body.acceptedAt,
      declined: body.declined ?? false,
    }),
    brings: (of) => [need('quote', of)],
  });
  registerSaid(app, house, {
    path: '/v1/work-order-tasks/:id/results',
    operationId: 'recordTaskResult',
    summary: 'What came of one task while the visit goes on; the last word by its time counts',
    tag: 'work-orders',
    body: newTaskResult,
    view: taskView,
    resource: 'task_result',
    claim: (taskId, body) => ({ taskId, body }),
    work: (stores, actor, of, body, resultId) =>
      recordTaskResult(house, stores, actor, taskResultOf(body, of, resultId)),
    show: async (stores, of) => viewTask(await read(stores, 'work_order_task', of)),
    brings: () => [],
  });
  registerSaid(app, house, {
    path: '/v1/notes',
    operationId: 'addNote',
    summary: 'Write down something about a site, or a line or pit of it',
    tag: 'notes',
    body: newNote,
    view: noteView,
    resource: 'note',
    claim: (_of, body) => body,
    work: (stores, actor, _of, body, noteId) => addNote(house, stores, actor, noteOf(body, noteId, null)),
    show: async (stores, _of, noteId) => viewNote(await read(stores, 'note', noteId)),
    brings: () => [],
  });
  registerSaid(app, house, {
    path: '/v1/work-orders/:id/dangers',
    operationId: 'reportDanger',
    summary: 'A hard stop, or gas (smell or meter): what to do at once; gas ends the visit',
    tag: 'work-orders',
    body: newDanger,
    view: dangerView,
    resource: 'danger',
    claim: ofOrder,
    work: (stores, actor, of, body, dangerId) =>
      recordDanger(house, stores, actor, dangerOf(body, of, dangerId)),
    show: async (stores, of, dangerId, units) =>
      viewDanger(
        await read(stores, 'danger', dangerId),
        (await read(stores, 'work_order', of))['state'],
        units,
      ),
    brings: () => [],
  });
  registerNoteReads(app, house);
}

function registerNoteReads(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/notes',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'listNotes',
        summary:
          "Notes of a site, newest first; a technician: of the sites of the own crew's routes (Accept: text/csv: as CSV)",
        tags: ['notes'],
        querystring: listQuery({
          filters: { siteId: id, workOrderId: id.optional() },
          sorts: ['notedAt'],
        }),
        response: { 200: pageAnswer(noteView, 'NotePage'), ...refusals(404) },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const siteId = String(asked['siteId']);
      await maySee(house.stores, request.actor, siteId, { resource: 'site', id: siteId });
      const where: Condition[] = [
        { column: 'site_id', is: '=', value: siteId },
        ...(asked['workOrderId'] === undefined
          ? []
          : [{ column: 'work_order_id', is: '=' as const, value: asked['workOrderId'] }]),
      ];
      const ask = pageAskOf(asked, where, {
        list: 'notes',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-notedAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'note',
        item: noteView,
        views: (rows) => rows.map(viewNote),
      });
    },
  );

  app.get(
    '/v1/notes/:id',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'getNote',
        summary: "Read one note; a technician: of the sites of the own crew's routes",
        tags: ['notes'],
        params: byId,
        response: { 200: noteView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const row = await house.stores.rows.get('note', id);
      if (!row) throw new Refused({ code: 'not-found', resource: 'note', id });
      await maySee(house.stores, request.actor, String(row['site_id']), { resource: 'note', id });
      return viewNote(row);
    },
  );
}
