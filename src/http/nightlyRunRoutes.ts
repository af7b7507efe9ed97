import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import { askNightIn } from '../actions/night/askNight.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { StepRecord } from '../actions/reads.js';
import { type Role, RUN_STATES } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, id, instant, refusals } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

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

const viewRun = (row: Row, steps: readonly (StepRecord | Row)[]) => ({
  id: row['id'],
  businessDay: row['business_day'],
  state: row['state'],
  askedBy: row['asked_by'],
  times: row['times'],
  startedAt: row['started_at'],
  finishedAt: row['finished_at'],
  failedBecause: row['failed_because'],
  steps: steps.map(({ name, state, progress, counts, seconds }) => ({
    name,
    state,
    progress,
    counts,
    seconds,
  })),
});

/** A run as it stands in a transaction that is not over. */
async function viewIn({ rows }: Stores, id: string) {
  const row = await rows.get('nightly_run', id);
  if (!row) throw new RangeError(`run ${id} was just put on record`);
  const steps = await rows.all('nightly_step', [{ column: 'run_id', is: '=', value: id }], 'position');
  return viewRun(row, steps);
}

/** Nights: asked for by hand, and on record. */
export function registerNightlyRunRoutes(app: FastifyInstance, house: House): void {
  const { stores } = house;

  const viewsOf = async (rows: readonly Row[]) => {
    const steps = await house.reads.steps(rows.map((row) => String(row['id'])));
    return new Map(
      rows.map((row) => [
        row,
        viewRun(
          row,
          steps.filter(({ runId }) => runId === row['id']),
        ),
      ]),
    );
  };
  const runOf = async (id: string) => {
    const row = await stores.rows.get('nightly_run', id);
    if (!row) throw new Refused({ code: 'not-found', resource: 'nightly_run', id });
    return (await viewsOf([row])).get(row);
  };

  app.post(
    '/v1/nightly-runs',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'startNightlyRun',
        summary: "Run the night's work of a business day now; 202, look at the run for progress",
        description:
          'A day that is done answers 200 with its run as it was: `again: true` works it once more, with what came in since of the days before it. What was found or done on the day itself is dated by the next night; until then it stands beside the date, as `notYetDated` of the trend.',
        tags: ['nightly-runs'],
        body: z
          .strictObject({ businessDay: day.optional(), again: z.boolean().optional() })
          .meta({ id: 'NewNightlyRun' }),
        response: { 200: runView, 202: runView, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as { businessDay?: string; again?: boolean };
        const { runId, finished } = await askNightIn(house, stores, {
          businessDay: body.businessDay ?? house.zone.dayOf(house.clock.now()),
          askedBy: request.actor.name,
          again: body.again === true,
        });
        return {
          status: finished ? 200 : 202,
          headers: { location: `/v1/nightly-runs/${runId}` },
          body: await viewIn(stores, runId),
        };
      }),
  );

  app.get(
    '/v1/nightly-runs',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listNightlyRuns',
        summary: 'Nights on record, newest first (Accept: text/csv: as CSV)',
        tags: ['nightly-runs'],
        querystring: listQuery({ filters: {}, sorts: ['businessDay'] }),
        response: { 200: pageAnswer(runView, 'NightlyRunPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const ask = pageAskOf(request.query as ListQuery, [], {
        list: 'nightly-runs',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-businessDay',
      });
      return answerList(house, request, reply, ask, {
        table: 'nightly_run',
        item: runView,
        views: async (rows) => {
          const views = await viewsOf(rows);
          return rows.map((row) => views.get(row));
        },
      });
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
      return runOf(id);
    },
  );
}
