import type { FastifyInstance, FastifyReply } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { askWhatIf } from '../actions/whatIf/askWhatIf.js';
import { AS_IT_IS, QUANTITIES, type WhatIfAnswer } from '../actions/whatIf/whatIfAsk.js';
import { dayNumber } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { type Role, RUN_STATES } from '../domain/words.js';
import { yearAheadChart } from '../papers/yearAheadChart.js';
import { wantsCsv } from './accepts.js';
import { csvLine } from './csvAnswer.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake, unitsQuery } from './resource.js';
import { otherSettings } from './settingRoutes.js';
import { day, id, instant, refusals } from './shapes.js';
import { write } from './writes.js';

const OWNER: readonly Role[] = ['owner'];
const byId = z.strictObject({ id });
const RUNS = 16;
const WEEKS = 52;

const asked = z.strictObject({
  extraCrews: z.number().min(-50).max(50).optional().describe('crews of the usual hours more, or less'),
  lostCrews: z
    .array(z.strictObject({ crewId: id, fromDay: day, toDay: day }))
    .max(20)
    .optional()
    .describe('crews that are not there between two days'),
  settings: otherSettings.optional().describe('risk, intervals, limits, surveys: only what differs'),
  careIntervalFactor: z
    .number()
    .min(0.25)
    .max(4)
    .optional()
    .describe('every interval of care terms times this'),
  newSites: z
    .strictObject({ perWeek: z.number().min(0).max(200), weeks: z.number().int().min(0).max(104) })
    .optional()
    .describe('new clients, each like one of the base, nothing known of the lines'),
});
const newWhatIf = asked
  .extend({
    runs: z.number().int().min(2).max(50).optional().describe('absent: 16; under 4 no difference is told'),
    weeks: z.number().int().min(1).max(104).optional().describe('absent: 52'),
    seed: z.number().int().min(0).max(2_147_483_647).optional().describe('absent: today'),
  })
  .meta({
    id: 'NewWhatIf',
    description: 'What would be otherwise. Nothing at all: the forecast of the weeks as it is.',
    example: { extraCrews: 1, settings: { yearlyPlugRisk: { finished: 0.01 } } },
  });

const band = z.object({ q10: z.number(), q50: z.number(), q90: z.number() });
const quantities = Object.fromEntries(QUANTITIES.map((name) => [name, band])) as Record<
  (typeof QUANTITIES)[number],
  typeof band
>;
const usedShare = band.nullable().describe('hours of the hours there are; null: nobody works');
const yearAhead = z.object({
  weeks: z.array(
    z.object({ monday: day, capacityHours: z.number(), usedShare, plugsSoFar: band, ...quantities }),
  ),
  totals: z
    .object(quantities)
    .describe(
      'sums over all weeks; backlog alone is no sum but the mean number waiting at the end of a week',
    ),
  usedShare,
});
const difference = z.object({
  mean: z.number(),
  low: z.number().describe('the mean lies between low and high, 95 % (of under 4 runs: all that was seen)'),
  high: z.number(),
  verdict: z.enum(['more', 'fewer', 'same', 'cannot_be_told']),
});
const differences = z.object(
  Object.fromEntries(QUANTITIES.map((name) => [name, difference])) as Record<
    (typeof QUANTITIES)[number],
    typeof difference
  >,
);
const whatIf = z
  .object({
    id: z.uuid(),
    state: z.enum(RUN_STATES),
    progress: z.number().min(0).max(1),
    asked: z.record(z.string(), z.unknown()),
    runs: z.number().int(),
    weeks: z.number().int(),
    seed: z.number().int(),
    askedBy: z.string(),
    failedBecause: z.string().nullable(),
    createdAt: instant,
    finishedAt: instant.nullable(),
  })
  .meta({ id: 'WhatIf', description: 'A question about the weeks to come, worked out in the background.' });
const whatIfAnswered = whatIf
  .extend({
    answer: z
      .object({
        asOf: day,
        fitOf: day,
        lines: z.number().int(),
        linesCounted: z.number().int().describe('of many a sample of whole sites; figures are scaled up'),
        asItIs: yearAhead,
        otherwise: yearAhead.nullable().describe('null where nothing was to be otherwise'),
        differences: differences
          .nullable()
          .describe('of the totals: otherwise less as it is, run by run with the same weather'),
      })
      .nullable()
      .describe('null until it is done'),
  })
  .meta({
    id: 'WhatIfAnswered',
    description:
      'Run by the night’s own dates and visits on a copy of the books. Each run draws every line from what is believed of it; each week of each line has the same chances with and without the change, so what the runs differ by is the change. backlog: visits wanted by the end of a week that wait; overtimeHours: hours beyond the shifts, for calls of plugged lines whatever they take, for other visits where a route would buy them: within settings routes.overtimeMinutes a shift, where waiting costs more than routes.overtimeGain times the overtime. What does not fit waits. Weeks are evened out as by night (settings visits.level… and late…): a heap comes sooner, what is late and in little danger waits for a week with room. Left out: routes within a day, kit, people and preconditions, pits that need a visit of their own.',
  });

const viewWhatIf = (r: Row) => ({
  id: r['id'],
  state: r['state'],
  progress: r['progress'],
  asked: r['asked'],
  runs: r['runs'],
  weeks: r['weeks'],
  seed: r['seed'],
  askedBy: r['asked_by'],
  failedBecause: r['failed_because'],
  createdAt: r['created_at'],
  finishedAt: r['finished_at'],
});

/** Questions about the weeks to come: the forecast as it is, and what would be otherwise. */
export function registerWhatIfRoutes(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/what-ifs',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'askWhatIf',
        summary: 'Ask for the weeks to come, as it is and otherwise; 202, it is worked out in the background',
        tags: ['what-ifs'],
        body: newWhatIf,
        response: { 202: whatIf, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { runs, weeks, seed, ...change } = request.body as z.infer<typeof newWhatIf>;
        const now = house.clock.now();
        const given = Object.fromEntries(Object.entries(change).filter(([, value]) => value !== undefined));
        const row = await askWhatIf(
          stores,
          { ...AS_IT_IS, ...given },
          { runs: runs ?? RUNS, weeks: weeks ?? WEEKS, seed: seed ?? dayNumber(house.zone.dayOf(now)) },
          { name: request.actor.name, at: now },
        );
        return {
          status: 202,
          body: viewWhatIf(row),
          headers: { location: `/v1/what-ifs/${String(row['id'])}` },
        };
      }),
  );

  app.get(
    '/v1/what-ifs',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'listWhatIfs',
        summary: 'Questions on record, newest first, without their answers (Accept: text/csv: as CSV)',
        tags: ['what-ifs'],
        querystring: listQuery({ filters: { state: z.enum(RUN_STATES).optional() }, sorts: ['createdAt'] }),
        response: { 200: pageAnswer(whatIf, 'WhatIfPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const query = request.query as ListQuery;
      const ask = pageAskOf(
        query,
        query['state'] === undefined ? [] : [{ column: 'state', is: '=', value: query['state'] }],
        { list: 'what-ifs', columnOf: snake, searchColumns: [], defaultSort: '-createdAt' },
      );
      return answerList(house, request, reply, ask, {
        table: 'what_if',
        item: whatIf,
        views: (rows) => rows.map(viewWhatIf),
      });
    },
  );

  app.get(
    '/v1/what-ifs/:id',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'getWhatIf',
        summary: 'One question: how far it is, then week by week (Accept: text/csv: as CSV)',
        tags: ['what-ifs'],
        params: byId,
        response: { 200: whatIfAnswered, ...refusals(404, 409) },
      },
    },
    async (request, reply: FastifyReply) => {
      const row = await rowOf((request.params as { id: string }).id);
      if (!wantsCsv(request)) return { ...viewWhatIf(row), answer: row['answer'] };
      return reply
        .type('text/csv; charset=utf-8')
        .serializer(String)
        .send(csvOf(answerOf(row)));
    },
  );

  app.get(
    '/v1/what-ifs/:id/weeks.svg',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'drawWhatIf',
        summary: 'The same as a picture (SVG)',
        tags: ['what-ifs'],
        params: byId,
        querystring: unitsQuery,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals(404, 409) },
      },
    },
    async (request, reply: FastifyReply) => {
      const row = await rowOf((request.params as { id: string }).id);
      const { asOf, lines, asItIs, otherwise, differences } = answerOf(row);
      const picture = yearAheadChart({
        title: otherwise === null ? 'The weeks to come' : 'The weeks to come, as it is and otherwise',
        asOf,
        lines,
        runs: Number(row['runs']),
        units: (request.query as { units?: UnitSystem }).units ?? house.units,
        ways: [
          { name: 'as it is', ...asItIs },
          ...(otherwise === null ? [] : [{ name: 'otherwise', ...otherwise }]),
        ],
        differences,
      });
      return reply.type('image/svg+xml').serializer(String).send(picture);
    },
  );

  async function rowOf(whatIfId: string): Promise<Row> {
    const row = await house.stores.rows.get('what_if', whatIfId);
    if (!row) throw new Refused({ code: 'not-found', resource: 'what_if', id: whatIfId });
    return row;
  }
}

/** @throws {Refused} `wrong-state` while it is not answered. */
function answerOf(row: Row): WhatIfAnswer {
  if (row['answer'] === null)
    throw new Refused({
      code: 'wrong-state',
      resource: 'what_if',
      id: String(row['id']),
      state: String(row['state']),
      allowed: ['done'],
      detail: `The question is ${String(row['state'])}: there is no answer to draw yet.`,
    });
  return row['answer'] as WhatIfAnswer;
}

/** A row a week of each way, then what the totals differ by: mean, low, high where the weeks have tenths. */
function csvOf({ asItIs, otherwise, differences }: WhatIfAnswer): string {
  const names = QUANTITIES.flatMap((name) => ['Q10', 'Q50', 'Q90'].map((q) => `${name}${q}`));
  const told = QUANTITIES.map((name) => `${name}Difference`);
  const lines: (string | number | null)[][] = [
    { way: 'as_it_is', year: asItIs },
    { way: 'otherwise', year: otherwise },
  ].flatMap(({ way, year }) =>
    (year?.weeks ?? []).map((week) => [
      way,
      week.monday,
      week.capacityHours,
      ...QUANTITIES.flatMap((name) => [week[name].q10, week[name].q50, week[name].q90]),
      week.usedShare?.q50 ?? null,
      ...told.map(() => null),
    ]),
  );
  if (differences !== null && differences !== undefined)
    lines.push([
      'difference_of_totals',
      null,
      null,
      ...QUANTITIES.flatMap((name) => [
        differences[name].low,
        differences[name].mean,
        differences[name].high,
      ]),
      null,
      ...QUANTITIES.map((name) => differences[name].verdict),
    ]);
  return [['way', 'monday', 'capacityHours', ...names, 'usedShareQ50', ...told], ...lines]
    .map(csvLine)
    .join('');
}
