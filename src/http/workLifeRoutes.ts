import type { FastifyInstance, FastifyRequest } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import { mayWorkOn } from '../actions/mayWorkOn.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { need } from '../actions/sync/needs.js';
import { takeId } from '../actions/takeId.js';
import { addFoundWork, confirmFoundWork } from '../actions/workLife/foundWork.js';
import { reportIncident, tellOfIncident, withdrawIncident } from '../actions/workLife/incidents.js';
import { hinderedDigs, recordTicket, updateTicket, withOpen } from '../actions/workLife/locateTickets.js';
import { orderCautions } from '../actions/workLife/orderCautions.js';
import { recordRain, withdrawRain } from '../actions/workLife/rain.js';
import { recordTrenchCheck, recordTrenchDepth } from '../actions/workLife/trenchChecks.js';
import { planWater } from '../actions/workLife/water.js';
import { fromStored, type Quantity, toStored, type UnitSystem } from '../domain/units/quantity.js';
import { CALLERS, LIFE_FROM, LIFE_UNITS, NOTICE_UNITS, type Role } from '../domain/words.js';
import { JET_INJURY_CARD } from '../domain/work/incidentRules.js';
import { LOCATE_TEMPLATES } from '../domain/work/locateTemplates.js';
import { PRIVATE_LINES_CAUTION } from '../domain/work/locateTicket.js';
import { wantsCsv } from './accepts.js';
import { csvLine } from './csvAnswer.js';
import { quantitySchema } from './fields.js';
import { unitsQuery } from './resource.js';
import { caution, day, id, instant, oneLine, refusals, text } from './shapes.js';
import { settleForOthers } from './syncRoutes.js';
import {
  foundBody,
  foundWorkOf,
  incidentBody,
  incidentOf,
  incidentView,
  newsOf,
  settledTicketView,
  ticketBody,
  ticketNews,
  ticketView,
  trenchBody,
  trenchCheckOf,
  trenchDepthBody,
  trenchView,
  viewIncident,
  viewTicket,
  viewTrench,
  viewWater,
  waterView,
} from './workLifeShapes.js';
import { taskView, viewTask, waterBody, waterOf } from './workOrderShapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];
const byId = z.strictObject({ id });
const utc = (at: string): string => new Date(at).toISOString();
const length = (value: unknown): number | null =>
  value === undefined || value === null ? null : toStored(value as Quantity, 'length');

/** What happens around an order: cautions, ticket, trench, water, found work, incidents. */
export function registerWorkLifeRoutes(app: FastifyInstance, house: House): void {
  registerCautions(app, house);
  registerTickets(app, house);
  registerTrench(app, house);
  registerWater(app, house);
  registerFoundWork(app, house);
  registerIncidents(app, house);
}

const unitsOf = (request: FastifyRequest, house: House): UnitSystem =>
  (request.query as { units?: UnitSystem }).units ?? house.units;

function registerCautions(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/work-orders/:id/cautions',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listWorkOrderCautions',
        summary: 'Cautions of a stop with their sources, to be seen before work begins',
        tags: ['work-orders'],
        params: byId,
        response: {
          200: z.object({ items: z.array(caution) }).meta({ id: 'OrderCautions' }),
          ...refusals(403, 404),
        },
      },
    },
    async (request) => {
      const order = await house.stores.rows.get('work_order', (request.params as { id: string }).id);
      if (!order)
        throw new Refused({
          code: 'not-found',
          resource: 'work_order',
          id: (request.params as { id: string }).id,
        });
      await mayWorkOn(
        house,
        house.stores,
        request.actor,
        String(order['site_id']),
        house.clock.now().toISOString(),
      );
      return { items: await orderCautions(house.stores, order) };
    },
  );
}

const template = z
  .object({
    code: z.string(),
    name: z.string(),
    notice: z.number().nullable(),
    noticeUnit: z.enum(NOTICE_UNITS).nullable(),
    callDayCounts: z.boolean().nullable(),
    life: z.number().nullable(),
    lifeUnit: z.enum(LIFE_UNITS).nullable(),
    lifeFrom: z.enum(LIFE_FROM),
    lifeCountsFirst: z.boolean(),
    startWithinDays: z.number().nullable(),
    startWithinUnit: z.enum(LIFE_UNITS),
    handDig: quantitySchema('bore').nullable(),
    missing: z.array(z.string()).describe('what the owner looks up before it can be used'),
    source: z.string(),
  })
  .meta({ id: 'LocateTemplate' });

function registerTickets(app: FastifyInstance, house: House): void {
  const settledTicket = async (stores: Stores, ticket: Row) => ({
    ...viewTicket(await withOpen(stores, ticket)),
    hinderedVisits: await hinderedDigs(house, stores, ticket),
  });
  app.get(
    '/v1/locate-rule-templates',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listLocateRuleTemplates',
        summary:
          'What could be read of some states’ one-call rules; each is confirmed against local law before use',
        tags: ['locate-tickets'],
        querystring: unitsQuery,
        response: {
          200: z.object({ items: z.array(template), caution: z.string() }).meta({ id: 'LocateTemplates' }),
          ...refusals(),
        },
      },
    },
    async (request) => ({
      items: LOCATE_TEMPLATES.map(({ handDigMm, holidays: _, ...each }) => ({
        ...each,
        notice: each.notice ?? null,
        noticeUnit: each.noticeUnit ?? null,
        callDayCounts: each.callDayCounts ?? null,
        life: each.life ?? null,
        lifeUnit: each.lifeUnit ?? null,
        lifeFrom: each.lifeFrom ?? 'call',
        lifeCountsFirst: each.lifeCountsFirst ?? false,
        startWithinDays: each.startWithinDays ?? null,
        startWithinUnit: each.startWithinUnit ?? 'calendar_day',
        missing: [...each.missing],
        handDig: handDigMm === null ? null : fromStored(handDigMm, 'bore', unitsOf(request, house)),
      })),
      caution: PRIVATE_LINES_CAUTION,
    }),
  );

  app.post(
    '/v1/work-orders/:id/locate-tickets',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'recordLocateTicket',
        summary: 'A call to the one-call centre; holds for the order and the parts of the dig that follow it',
        tags: ['locate-tickets'],
        params: byId,
        body: ticketBody,
        response: { 201: settledTicketView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const workOrderId = (request.params as { id: string }).id;
        const body = request.body as z.infer<typeof ticketBody>;
        const ticketId = body.id?.toLowerCase() ?? newId();
        const isNew =
          body.id === undefined || (await takeId(stores, 'locate_ticket', ticketId, { workOrderId, body }));
        const ticket = isNew
          ? await recordTicket(house, stores, request.actor, {
              id: ticketId,
              workOrderId,
              ruleId: body.ruleId,
              number: body.number ?? null,
              calledAt: utc(body.calledAt),
              emergencyBecause: body.emergencyBecause ?? null,
              utilities: body.utilities,
            })
          : await stores.rows.get('locate_ticket', ticketId);
        return { status: 201, body: await settledTicket(stores, ticket ?? {}) };
      }),
  );

  app.get(
    '/v1/work-orders/:id/locate-tickets',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'listLocateTickets',
        summary: 'Tickets called for an order, newest last',
        tags: ['locate-tickets'],
        params: byId,
        response: {
          200: z.object({ items: z.array(ticketView) }).meta({ id: 'LocateTicketList' }),
          ...refusals(404),
        },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const record = { resource: 'work_order', id };
      const order = await house.stores.rows.get('work_order', id);
      if (!order) throw new Refused({ code: 'not-found', ...record });
      await maySee(house.stores, request.actor, String(order['site_id']), record);
      const tickets = await house.stores.rows.all(
        'locate_ticket',
        [{ column: 'work_order_id', is: '=', value: id }],
        'called_at',
      );
      const items: object[] = [];
      for (const ticket of tickets) items.push(viewTicket(await withOpen(house.stores, ticket)));
      return { items };
    },
  );

  app.post(
    '/v1/locate-tickets/:id/news',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'updateLocateTicket',
        summary: 'A utility answered, marks were seen, private lines were located',
        tags: ['locate-tickets'],
        params: byId,
        body: ticketNews,
        response: { 200: settledTicketView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof ticketNews>;
        const ticketId = (request.params as { id: string }).id;
        const ticket = await updateTicket(house, stores, request.actor, ticketId, newsOf(body, utc));
        return {
          status: 200,
          body: await settledTicket(stores, ticket),
          afterwards: () =>
            settleForOthers(house, request, [need('ticket', String(ticket['work_order_id']))]),
        };
      }),
  );
}

function registerTrench(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/work-orders/:id/trench-checks',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'recordTrenchCheck',
        summary: 'A competent person checked the trench: once a shift, and after rain',
        tags: ['work-orders'],
        params: byId,
        querystring: unitsQuery,
        body: trenchBody,
        response: { 201: trenchView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const workOrderId = (request.params as { id: string }).id;
        const body = request.body as z.infer<typeof trenchBody>;
        const checkId = body.id?.toLowerCase() ?? newId();
        const isNew =
          body.id === undefined || (await takeId(stores, 'trench_check', checkId, { workOrderId, body }));
        const row = isNew
          ? await recordTrenchCheck(house, stores, request.actor, trenchCheckOf(body, workOrderId, checkId))
          : await stores.rows.get('trench_check', checkId);
        return {
          status: 201,
          body: viewTrench(row ?? {}, unitsOf(request, house)),
          afterwards: () =>
            settleForOthers(house, request, [need('trench', workOrderId), need('item', checkId)]),
        };
      }),
  );

  const depthView = z
    .object({
      checkHolds: z.boolean().describe('false: out of the trench until it was checked again'),
      check: trenchView.nullable().describe('the newest on record; one that failed says why'),
    })
    .meta({
      id: 'TrenchDepth',
      description: 'Whether a trench this deep may be worked in on the check it has.',
    });
  app.post(
    '/v1/work-orders/:id/trench-depths',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'reportTrenchDepth',
        summary: 'How deep the trench is now: past what was checked it is checked again before work goes on',
        tags: ['work-orders'],
        params: byId,
        querystring: unitsQuery,
        body: trenchDepthBody,
        response: { 200: depthView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const workOrderId = (request.params as { id: string }).id;
        const body = request.body as z.infer<typeof trenchDepthBody>;
        const depthId = body.id?.toLowerCase() ?? newId();
        const isNew =
          body.id === undefined || (await takeId(stores, 'trench_depth', depthId, { workOrderId, body }));
        const check = isNew
          ? await recordTrenchDepth(house, stores, request.actor, {
              id: depthId,
              workOrderId,
              seenAt: utc(body.seenAt),
              depthM: length(body.depth) ?? 0,
            })
          : await stores.rows.get('trench_check', depthId);
        return {
          status: 200,
          body: {
            checkHolds: check?.['passed'] === true,
            check: check && viewTrench(check, unitsOf(request, house)),
          },
        };
      }),
  );

  const rainView = z
    .object({
      id: z.uuid(),
      area: z.string().nullable(),
      endedAt: instant,
      author: z.string(),
      withdrawnAt: instant.nullable().describe('a slip: it counts for no trench'),
    })
    .meta({ id: 'Rain', description: 'Rain on an area: trenches there are checked again.' });
  const viewRain = (row: Record<string, unknown>) => ({
    id: row['id'],
    area: row['area'],
    endedAt: row['ended_at'],
    author: row['author'],
    withdrawnAt: row['withdrawn_at'],
  });
  app.post(
    '/v1/rain-reports',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'reportRain',
        summary: 'It rained on an area (none: everywhere): trench checks before it no longer hold',
        description:
          "A technician: of an area in which a house of the own crew's route of that day lies. Everywhere is for the office.",
        tags: ['work-orders'],
        body: z
          .strictObject({ area: oneLine(120).nullable().optional(), endedAt: instant })
          .meta({ id: 'NewRain' }),
        response: { 201: rainView, ...refusals(403, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as { area?: string | null; endedAt: string };
        const row = await recordRain(house, stores, request.actor, {
          area: body.area ?? null,
          endedAt: utc(body.endedAt),
        });
        return { status: 201, body: viewRain(row) };
      }),
  );

  app.post(
    '/v1/rain-reports/:id/withdrawal',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'withdrawRain',
        summary: 'A report of rain that was a slip: trench checks before it hold again',
        tags: ['work-orders'],
        params: byId,
        response: { 200: rainView, ...refusals(404) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        return { status: 200, body: viewRain(await withdrawRain(house, stores, request.actor, id)) };
      }),
  );
}

function registerWater(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/work-orders/:id/discharge-plan',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'planDischarge',
        summary:
          'Where water and sludge of a visit will go; a storm drain, water or sewer only with a reference',
        tags: ['water-records'],
        params: byId,
        querystring: unitsQuery,
        body: waterBody,
        response: { 201: waterView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const workOrderId = (request.params as { id: string }).id;
        const row = await planWater(house, stores, request.actor, {
          id: newId(),
          workOrderId,
          water: waterOf(request.body as z.infer<typeof waterBody>),
          at: house.clock.now().toISOString(),
        });
        return {
          status: 201,
          body: viewWater(row, unitsOf(request, house)),
          afterwards: () => settleForOthers(house, request, [need('plan', workOrderId)]),
        };
      }),
  );

  const period = z.strictObject({ from: day, to: day, units: z.enum(['metric', 'us']).optional() });
  app.get(
    '/v1/water-records',
    {
      config: { roles: ['dispatcher', 'owner', 'integration'] },
      schema: {
        operationId: 'listWaterRecords',
        summary: 'The log of a period for the authority: where water and sludge went (CSV: Accept: text/csv)',
        tags: ['water-records'],
        querystring: period,
        response: {
          200: z.object({ from: day, to: day, items: z.array(waterView) }).meta({ id: 'WaterLog' }),
          ...refusals(),
        },
      },
    },
    async (request, reply) => {
      const { from, to } = request.query as z.infer<typeof period>;
      const rows = await house.stores.workLife.waterLog(
        house.zone.instantOf(from, 0).toISOString(),
        house.zone.instantOf(to, 86_400).toISOString(),
      );
      const items = rows.map((row) => viewWater(row, unitsOf(request, house)));
      if (!wantsCsv(request)) return { from, to, items };
      const columns = [
        'at',
        'orderNumber',
        'address',
        'town',
        'receiver',
        'place',
        'permitRef',
        'water',
        'waterUnit',
        'sludge',
        'sludgeUnit',
        'asPlanned',
        'sludgeTo',
        'plannedReceiver',
        'author',
      ] as const;
      return reply
        .type('text/csv; charset=utf-8')
        .serializer(String)
        .send(
          [
            csvLine([...columns]),
            ...items.map(({ water, sludge, ...item }) => {
              const cells: Record<string, unknown> = {
                ...item,
                ...apart('water', water),
                ...apart('sludge', sludge),
              };
              return csvLine(columns.map((name) => cells[name]));
            }),
          ].join(''),
        );
    },
  );
}

/** A number and its unit in cells of their own, so that a spreadsheet can add them up. */
const apart = (name: string, quantity: { value: number; unit: string } | null) => ({
  [name]: quantity?.value ?? null,
  [`${name}Unit`]: quantity?.unit ?? null,
});

function registerFoundWork(app: FastifyInstance, house: House): void {
  const added = z.object({ items: z.array(taskView) }).meta({ id: 'FoundTasks' });
  app.post(
    '/v1/work-orders/:id/found-work',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'addFoundWork',
        summary:
          'Work found while there, with the price accepted by whom and when; a dig is an order of its own',
        tags: ['work-orders'],
        params: byId,
        body: foundBody,
        response: { 201: added, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof foundBody>;
        const workOrderId = (request.params as { id: string }).id;
        const rows = await addFoundWork(
          house,
          stores,
          request.actor,
          foundWorkOf(workOrderId, body, () => newId()),
        );
        return {
          status: 201,
          body: { items: rows.map(viewTask) },
          afterwards: () =>
            settleForOthers(
              house,
              request,
              rows.map((row) => need('task', String(row['id']))),
            ),
        };
      }),
  );

  app.post(
    '/v1/work-order-tasks/:id/confirmation',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'confirmFoundWork',
        summary: 'The office looked at work that was found on site',
        tags: ['work-orders'],
        params: byId,
        body: z
          .strictObject({ priceMinor: z.number().int().min(0).max(2_000_000_000).nullable().optional() })
          .meta({ id: 'FoundWorkConfirmation' }),
        response: { 200: taskView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as { priceMinor?: number | null };
        const row = await confirmFoundWork(
          stores,
          (request.params as { id: string }).id,
          body.priceMinor ?? null,
        );
        return { status: 200, body: viewTask(row) };
      }),
  );
}

function registerIncidents(app: FastifyInstance, house: House): void {
  const shown = (row: Record<string, unknown>) =>
    viewIncident(row, row['kind'] === 'jet_injury' ? JET_INJURY_CARD : null);
  app.post(
    '/v1/incidents',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'recordIncident',
        summary: 'What went wrong; answers who must be told by when, and the card for a water-jet injury',
        tags: ['incidents'],
        body: incidentBody,
        response: { 201: incidentView, ...refusals(403, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof incidentBody>;
        const incidentId = body.id?.toLowerCase() ?? newId();
        const isNew = body.id === undefined || (await takeId(stores, 'incident', incidentId, body));
        const row = isNew
          ? await reportIncident(house, stores, request.actor, incidentOf(body, incidentId))
          : await stores.rows.get('incident', incidentId);
        return {
          status: 201,
          body: shown(row ?? {}),
          afterwards: () => settleForOthers(house, request, [need('item', incidentId)]),
        };
      }),
  );

  app.get(
    '/v1/incidents',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listIncidents',
        summary: 'Incidents, newest first; open ones only unless all=true',
        tags: ['incidents'],
        querystring: z.strictObject({ all: z.stringbool().optional() }),
        response: {
          200: z.object({ items: z.array(incidentView) }).meta({ id: 'IncidentList' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const { all } = request.query as { all?: boolean };
      const rows = await house.stores.rows.page('incident', {
        where: all === true ? [] : [{ column: 'closed_at', is: 'null' }],
        sort: { column: 'happened_at', descending: true },
        limit: 500,
      });
      return { items: rows.map(shown) };
    },
  );

  app.post(
    '/v1/incidents/:id/withdrawal',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'withdrawIncident',
        summary: 'An incident that was none: it stays on record, and nobody has to be told of it any more',
        tags: ['incidents'],
        params: byId,
        body: z.strictObject({ because: text(500) }).meta({ id: 'IncidentWithdrawal' }),
        response: { 200: incidentView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const { because } = request.body as { because: string };
        const row = await withdrawIncident(house, stores, request.actor, { id, because });
        return { status: 200, body: shown(row) };
      }),
  );

  app.post(
    '/v1/incidents/:id/telling',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'tellOfIncident',
        summary: 'Somebody on the list was told; with the last of them the incident is closed',
        tags: ['incidents'],
        params: byId,
        body: z
          .strictObject({
            who: text(300),
            toldAt: instant
              .nullable()
              .describe('said again it is put right; null: they were not told after all'),
          })
          .meta({ id: 'IncidentTelling' }),
        response: { 200: incidentView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as { who: string; toldAt: string | null };
        const row = await tellOfIncident(
          house,
          stores,
          request.actor,
          (request.params as { id: string }).id,
          body.who,
          body.toldAt === null ? null : utc(body.toldAt),
        );
        return { status: 200, body: shown(row) };
      }),
  );
}
