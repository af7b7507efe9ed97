import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { lineTrend } from '../actions/lineTrend.js';
import { type NotYetDated, notYetDated } from '../actions/notYetDated.js';
import type { Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { LINE_KINDS, MATERIALS, type Role, WORK_ORDER_STATES } from '../domain/words.js';
import { paceText } from '../papers/paceWords.js';
import { trendChart } from '../papers/trendChart.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake, unitsQuery } from './resource.js';
import { day, id, instant, oneLine, reason, refusals, share } from './shapes.js';

const READERS: readonly Role[] = ['dispatcher', 'owner', 'integration'];
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
      .describe(
        'share of the bore a month, the mean of a year between empty and half full; dates have the season and the growth law in them besides: the pace of the coming months is told with the line alone',
      ),
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
    notYetDated: z
      .array(
        z.object({
          kind: z.enum(['plugged', 'reading', 'clean']),
          at: instant,
          text: z.string(),
        }),
      )
      .describe('found or done since the day of `asOf` began: the next night dates the line by it'),
  })
  .meta({
    id: 'Trend',
    description:
      'What the service believes about a line in its present epoch, and its due date with reasons.',
  });

const paceView = z
  .object({
    from: day,
    to: day,
    occlusionFrom: share,
    occlusionTo: share.describe('if nobody cleans'),
    perMonth: z.number().describe('share of the bore a month in these months'),
    yearlyMean: z.number().describe('the mean of a year, between empty and half full'),
    season: z
      .object({
        ofYear: z.number().describe('growth in these months over that of a year, by the season alone'),
        fastestOn: day,
        fastest: z.number().describe('growth then over that of a year'),
      })
      .nullable()
      .describe("the base's own; null: none worth a word"),
    text: z.string(),
  })
  .meta({
    id: 'Pace',
    description: 'How fast a line fouls in the months to come, beside its mean over a year.',
  });

const viewTrend = (r: Row, since: readonly NotYetDated[]) => ({
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
  notYetDated: since,
});

const spread = z.object({ q10: z.number(), q50: z.number(), q90: z.number() }).nullable();
const summaryView = z
  .object({
    asOf: day,
    lines: z.number().int(),
    linesDated: z.number().int().describe('lines with a trend'),
    dueNow: z.number().int(),
    dueInFourWeeks: z.number().int(),
    pastActionLimit: z.number().int().describe('believed past it now, as in the report of occlusions'),
    plugsExpectedInAYearUnvisited: z.number().describe('if nobody came for a year'),
    ratePerMonth: spread.describe('over the lines; share of the bore a month'),
    occlusion: spread.describe('over the lines; share of the bore'),
    workOrders: z.object(Object.fromEntries(WORK_ORDER_STATES.map((state) => [state, z.number().int()]))),
    openReviews: z.number().int().describe('doubted readings nobody has judged'),
  })
  .meta({ id: 'Summary', description: 'The client base at a glance.' });

const NO_ORDERS = Object.fromEntries(WORK_ORDER_STATES.map((state) => [state, 0]));
const quantiles = (values: unknown) => {
  const [q10, q50, q90] = (values as number[] | null) ?? [];
  return q10 === undefined ? null : { q10, q50, q90 };
};

export function registerTrendRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;
  const units = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;

  app.get(
    '/v1/trends',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'listTrends',
        summary: 'Trends of all lines: by due date, rate or risk (Accept: text/csv: as CSV)',
        tags: ['trends'],
        querystring: listQuery({
          filters: {
            kind: z.enum(LINE_KINDS).optional(),
            material: z.enum(MATERIALS).optional(),
            area: oneLine(120).optional(),
            town: oneLine(120).optional(),
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
      const where: Condition[] = ['kind', 'material', 'area', 'town', 'siteId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['dueBefore'] !== undefined)
        where.push({ column: 'due_on', is: '<', value: asked['dueBefore'] });
      const columns: Record<string, string> = { actionChance30d: 'action_chance_30d', createdAt: 'due_on' };
      const ask = pageAskOf(asked, where, {
        list: 'trends',
        columnOf: (name) => columns[name] ?? snake(name),
        searchColumns: ['address', 'town', 'name'],
        defaultSort: 'dueOn',
      });
      return answerList(house, request, reply, ask, {
        table: 'trend_list',
        item: trendView,
        views: async (rows) => {
          const since = await notYetDated(house, rows);
          return rows.map((row) => viewTrend(row, since.get(String(row['id'])) ?? []));
        },
      });
    },
  );

  app.get(
    '/v1/lines/:id/trend',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'getLineTrend',
        summary: 'One line: belief, pace, readings, past and coming curve with its 80 % band',
        tags: ['trends'],
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        response: {
          200: z
            .object({ trend: trendView, pace: paceView, picture: z.record(z.string(), z.unknown()) })
            .meta({ id: 'LineTrend' }),
          ...refusals(404),
        },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const [row, picture] = await trendOf(id, 'metric');
      const since = await notYetDated(house, [row]);
      const pace = {
        ...picture.pace,
        text: paceText(picture.pace, picture.boreMm, units(request), picture.pluggedSince),
      };
      return { trend: viewTrend(row, since.get(id) ?? []), pace, picture };
    },
  );

  app.get(
    '/v1/lines/:id/trend.svg',
    {
      config: { roles: READERS },
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
      config: { roles: READERS },
      schema: {
        operationId: 'getSummary',
        summary: 'The client base at a glance',
        tags: ['trends'],
        response: { 200: summaryView, ...refusals() },
      },
    },
    async () => {
      const asOf = house.zone.dayOf(house.clock.now());
      const row = await stores.answers.summary(asOf);
      return {
        asOf,
        lines: row['lines'],
        linesDated: row['dated'],
        dueNow: row['due_now'],
        dueInFourWeeks: row['due_in_four_weeks'],
        pastActionLimit: row['past_action_limit'],
        plugsExpectedInAYearUnvisited: row['plugs_expected_in_a_year_unvisited'],
        ratePerMonth: quantiles(row['rates']),
        occlusion: quantiles(row['occlusions']),
        workOrders: { ...NO_ORDERS, ...(row['orders'] as object) },
        openReviews: row['open_reviews'],
      };
    },
  );
}
