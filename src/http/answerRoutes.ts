import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { finishWorkOrder, startWorkOrder } from '../actions/attempts.js';
import type { House } from '../actions/house.js';
import { lineTrend } from '../actions/lineTrend.js';
import type { Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import {
  ATTEMPT_RESULTS,
  FLOW_PROVEN,
  LINE_KINDS,
  MATERIALS,
  NOT_DONE_REASONS,
  ROLES,
  type Role,
  RUN_STATES,
  TASK_KINDS,
  WORK_ORDER_CAUSES,
  WORK_ORDER_STATES,
} from '../domain/words.js';
import { trendChart } from '../papers/trendChart.js';
import { type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake, unitsQuery } from './resource.js';
import { day, id, instant, reason, refusals, share, text } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const maybeDay = day.nullable();

const trendView = z
  .object({
    lineId: z.uuid(),
    name: z.string(),
    kind: z.enum(LINE_KINDS),
    material: z.enum(MATERIALS),
    siteId: z.uuid(),
    address: z.string(),
    town: z.string(),
    area: z.string(),
    asOf: day,
    occlusion: z.object({ mean: share, sd: z.number(), q10: share, q90: share }),
    ratePerMonth: z
      .object({ median: z.number(), q10: z.number(), q90: z.number() })
      .describe('share of the bore a month'),
    limits: z.object({ action: share, plug: share }),
    actionOn: z
      .object({ q10: maybeDay, q50: maybeDay, q90: maybeDay })
      .describe('when the action limit is passed; null: beyond twelve years'),
    plugOn: z.object({ q10: maybeDay, q50: maybeDay, q90: maybeDay }),
    chances: z.object({
      actionWithin30Days: share,
      actionByDue: share,
      plugByDue: share,
      plugWithinYear: share,
    }),
    readingsUsed: z.number().int(),
    lastEvidenceAt: instant.nullable(),
    dueOn: maybeDay,
    dueRule: z.string().nullable(),
    dueReasons: z.array(reason),
    intervalDays: z.number().int().nullable(),
  })
  .meta({
    id: 'Trend',
    description:
      'What the service believes about a line in its present epoch, and its due date with reasons.',
  });

const viewTrend = (r: Row) => ({
  lineId: r['id'],
  name: r['name'],
  kind: r['kind'],
  material: r['material'],
  siteId: r['site_id'],
  address: r['address'],
  town: r['town'],
  area: r['area'],
  asOf: r['as_of'],
  occlusion: {
    mean: r['occlusion'],
    sd: r['occlusion_sd'],
    q10: r['occlusion_q10'],
    q90: r['occlusion_q90'],
  },
  ratePerMonth: { median: r['rate_per_month'], q10: r['rate_q10'], q90: r['rate_q90'] },
  limits: { action: r['action_limit'], plug: r['plug_limit'] },
  actionOn: { q10: r['action_q10_on'], q50: r['action_q50_on'], q90: r['action_q90_on'] },
  plugOn: { q10: r['plug_q10_on'], q50: r['plug_q50_on'], q90: r['plug_q90_on'] },
  chances: {
    actionWithin30Days: r['action_chance_30d'],
    actionByDue: r['action_chance_due'],
    plugByDue: r['plug_chance_due'],
    plugWithinYear: r['plug_chance_year'],
  },
  readingsUsed: r['readings_used'],
  lastEvidenceAt: r['last_evidence_at'],
  dueOn: r['due_on'],
  dueRule: r['due_rule'],
  dueReasons: r['due_reasons'],
  intervalDays: r['interval_days'],
});

const taskView = z
  .object({
    id: z.uuid(),
    position: z.number().int(),
    kind: z.enum(TASK_KINDS),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    minutes: z.number().int(),
    plan: z.record(z.string(), z.unknown()),
    result: z.enum(ATTEMPT_RESULTS).nullable(),
  })
  .meta({ id: 'Task' });
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
  })),
});

const orderView = z
  .object({
    id: z.uuid(),
    number: z.number().int(),
    siteId: z.uuid(),
    state: z.enum(WORK_ORDER_STATES),
    cause: z.enum(WORK_ORDER_CAUSES),
    notBefore: maybeDay,
    wantedBy: maybeDay,
    kit: z.array(z.string()),
    people: z.number().int(),
    minutes: z.number().int(),
    waterL: z.number(),
    sludgeL: z.number(),
    becauseOf: z.array(reason),
    priceBasis: z.string(),
    priceMinor: z.number().int().nullable(),
    startedAt: instant.nullable(),
    doneAt: instant.nullable(),
    withdrawnBecause: z.string().nullable(),
    note: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'WorkOrder', description: 'One visit to one site.' });
const viewOrder = (r: Row) => ({
  id: r['id'],
  number: r['number'],
  siteId: r['site_id'],
  state: r['state'],
  cause: r['cause'],
  notBefore: r['not_before'],
  wantedBy: r['wanted_by'],
  kit: r['kit'],
  people: r['people'],
  minutes: r['minutes'],
  waterL: r['water_l'],
  sludgeL: r['sludge_l'],
  becauseOf: r['because_of'],
  priceBasis: r['price_basis'],
  priceMinor: r['price_minor'],
  startedAt: r['started_at'],
  doneAt: r['done_at'],
  withdrawnBecause: r['withdrawn_because'],
  note: r['note'],
  version: r['version'],
});

const pumpRestored = z.strictObject({
  powerOn: z.boolean(),
  valveOpen: z.boolean(),
  floatCycled: z.boolean(),
  lidBack: z.boolean(),
});
const finishBody = z
  .strictObject({
    endedAt: instant,
    result: z.enum(ATTEMPT_RESULTS),
    reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
    pumpRestored: pumpRestored.nullable().optional(),
    flowProven: z.enum(FLOW_PROVEN).nullable().optional(),
    waterWentTo: text(300).nullable().optional(),
    note: text(4000).nullable().optional(),
    tasks: z
      .array(
        z.strictObject({
          id,
          result: z.enum(ATTEMPT_RESULTS),
          reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
        }),
      )
      .max(100)
      .optional(),
  })
  .meta({
    id: 'AttemptEnd',
    description: 'Done needs three things: pump restored, flow proven answered, where the water went.',
  });

const runView = z
  .object({
    id: z.uuid(),
    businessDay: day,
    state: z.enum(RUN_STATES),
    askedBy: z.string(),
    times: z.number().int(),
    startedAt: instant.nullable(),
    finishedAt: instant.nullable(),
    failedBecause: z.string().nullable(),
    steps: z.array(
      z.object({
        name: z.string(),
        state: z.enum(RUN_STATES),
        progress: z.number(),
        counts: z.record(z.string(), z.number()),
        seconds: z.number().nullable(),
      }),
    ),
  })
  .meta({ id: 'NightlyRun' });

export interface AnswerDoors {
  /** Wakes the night; it works on after the answer. */
  startNight: (businessDay: string, askedBy: string, again: boolean) => Promise<string>;
}

export function registerAnswerRoutes(app: FastifyInstance, house: House, doors: AnswerDoors): void {
  const { stores } = house;
  const units = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;

  app.get(
    '/v1/trends',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listTrends',
        summary: 'Trends of all lines: by due date, rate or risk',
        tags: ['trends'],
        querystring: listQuery({
          filters: {
            kind: z.enum(LINE_KINDS).optional(),
            material: z.enum(MATERIALS).optional(),
            area: text(120).optional(),
            siteId: id.optional(),
            dueBefore: day.optional(),
          },
          sorts: ['dueOn', 'ratePerMonth', 'plugChanceYear', 'actionChance30d', 'occlusion'],
          search: true,
        }),
        response: { 200: pageAnswer(trendView, 'TrendPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['kind', 'material', 'area', 'siteId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['dueBefore'] !== undefined)
        where.push({ column: 'due_on', is: '<', value: asked['dueBefore'] });
      const columns: Record<string, string> = { actionChance30d: 'action_chance_30d', createdAt: 'due_on' };
      const ask = pageAskOf(asked, where, {
        columnOf: (name) => columns[name] ?? snake(name),
        searchColumns: ['address', 'town', 'name'],
        defaultSort: 'dueOn',
      });
      return ask.answer(
        reply,
        request,
        await stores.rows.page('trend_list', { ...ask, limit: ask.limit + 1 }),
        viewTrend,
      );
    },
  );

  app.get(
    '/v1/lines/:id/trend',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getLineTrend',
        summary: 'One line: belief, readings, past and coming curve with its 80 % band',
        tags: ['trends'],
        params: z.strictObject({ id }),
        response: {
          200: z
            .object({ trend: trendView, picture: z.record(z.string(), z.unknown()) })
            .meta({ id: 'LineTrend' }),
          ...refusals(404),
        },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const [row, picture] = await trendOf(id, 'metric');
      return { trend: viewTrend(row), picture };
    },
  );

  app.get(
    '/v1/lines/:id/trend.svg',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'drawLineTrend',
        summary: 'The same as a picture (SVG)',
        tags: ['trends'],
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals(404) },
      },
    },
    async (request, reply: FastifyReply) => {
      const { id } = request.params as { id: string };
      const [, picture] = await trendOf(id, units(request));
      return reply.type('image/svg+xml').serializer(String).send(trendChart(picture));
    },
  );

  async function trendOf(lineId: string, system: UnitSystem) {
    const row = await stores.rows.get('trend_list', lineId);
    const picture = row ? await lineTrend(house, row, system) : null;
    if (!row || !picture) throw new Refused({ code: 'not-found', resource: 'trend of line', id: lineId });
    return [row, picture] as const;
  }

  app.get(
    '/v1/summary',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getSummary',
        summary: 'The client base at a glance',
        tags: ['trends'],
        response: { 200: z.record(z.string(), z.unknown()).meta({ id: 'Summary' }), ...refusals() },
      },
    },
    async () => {
      const row = await stores.answers.summary(house.zone.dayOf(house.clock.now()));
      return Object.fromEntries(
        Object.entries(row).map(([key, value]) => [
          key.replace(/_([a-z])/g, (_, c: string) => c.toUpperCase()),
          value,
        ]),
      );
    },
  );

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

  app.get(
    '/v1/work-orders',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listWorkOrders',
        summary: 'Work orders by state and date',
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
      const ask = pageAskOf(asked, where, { columnOf: snake, searchColumns: [], defaultSort: 'wantedBy' });
      return ask.answer(
        reply,
        request,
        await stores.rows.page('work_order', { ...ask, limit: ask.limit + 1 }),
        viewOrder,
      );
    },
  );

  app.get(
    '/v1/work-orders/:id',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getWorkOrder',
        summary: 'One work order',
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        response: { 200: orderView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const row = await stores.rows.get('work_order', id);
      if (!row) throw new Refused({ code: 'not-found', resource: 'work_order', id });
      return viewOrder(row);
    },
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
        body: z.strictObject({ startedAt: instant }).meta({ id: 'AttemptStart' }),
        response: { 200: orderView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const { startedAt } = request.body as { startedAt: string };
        return {
          status: 200,
          body: viewOrder(await startWorkOrder(house, inside, request.actor, id, startedAt)),
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
        response: { 200: orderView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (inside) => {
        const { id } = request.params as { id: string };
        const body = request.body as z.infer<typeof finishBody>;
        return {
          status: 200,
          body: viewOrder(
            await finishWorkOrder(house, inside, request.actor, id, {
              endedAt: body.endedAt,
              result: body.result,
              reason: body.reason ?? null,
              pumpRestored: body.pumpRestored ?? null,
              flowProven: body.flowProven ?? null,
              waterWentTo: body.waterWentTo ?? null,
              note: body.note ?? null,
              tasks: (body.tasks ?? []).map((task) => ({
                id: task.id,
                result: task.result,
                reason: task.reason ?? null,
              })),
            }),
          ),
        };
      }),
  );

  const runOf = async (row: Row) => ({
    id: row['id'],
    businessDay: row['business_day'],
    state: row['state'],
    askedBy: row['asked_by'],
    times: row['times'],
    startedAt: row['started_at'],
    finishedAt: row['finished_at'],
    failedBecause: row['failed_because'],
    steps: (
      await stores.rows.all('nightly_step', [{ column: 'run_id', is: '=', value: row['id'] }], 'position')
    ).map((step) => ({
      name: step['name'],
      state: step['state'],
      progress: step['progress'],
      counts: step['counts'],
      seconds: step['seconds'],
    })),
  });

  app.post(
    '/v1/nightly-runs',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'startNightlyRun',
        summary: "Run the night's work of a business day now; 202, look at the run for progress",
        tags: ['nightly-runs'],
        body: z
          .strictObject({ businessDay: day.optional(), again: z.boolean().optional() })
          .meta({ id: 'NewNightlyRun' }),
        response: { 202: runView, ...refusals(409, 415, 422) },
      },
    },
    async (request, reply) => {
      const body = request.body as { businessDay?: string; again?: boolean };
      const runId = await doors.startNight(
        body.businessDay ?? house.zone.dayOf(house.clock.now()),
        request.actor.name,
        body.again === true,
      );
      const row = await stores.rows.get('nightly_run', runId);
      return reply
        .code(202)
        .header('location', `/v1/nightly-runs/${runId}`)
        .send(await runOf(row ?? {}));
    },
  );

  app.get(
    '/v1/nightly-runs',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listNightlyRuns',
        summary: 'Nights on record, newest first',
        tags: ['nightly-runs'],
        querystring: listQuery({ filters: {}, sorts: ['businessDay'] }),
        response: { 200: pageAnswer(runView, 'NightlyRunPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const ask = pageAskOf(request.query as ListQuery, [], {
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-businessDay',
      });
      const rows = await stores.rows.page('nightly_run', { ...ask, limit: ask.limit + 1 });
      const views = new Map<Row, unknown>();
      for (const row of rows) views.set(row, await runOf(row));
      return ask.answer(reply, request, rows, (row) => views.get(row));
    },
  );

  app.get(
    '/v1/nightly-runs/:id',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getNightlyRun',
        summary: 'One night: steps, counts, seconds',
        tags: ['nightly-runs'],
        params: z.strictObject({ id }),
        response: { 200: runView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const row = await stores.rows.get('nightly_run', id);
      if (!row) throw new Refused({ code: 'not-found', resource: 'nightly_run', id });
      return runOf(row);
    },
  );
}
