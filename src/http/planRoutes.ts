import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { askPlan } from '../actions/plans/askPlan.js';
import { lookAtPlan, type WholePlan } from '../actions/plans/lookAtPlan.js';
import { acceptPlan, discardPlan, endSearch, markStale } from '../actions/plans/settlePlan.js';
import { staysInForce } from '../actions/plans/withdrawDisruption.js';
import { Refused } from '../actions/problems.js';
import { addDays, dayNumber } from '../domain/calendar/isoDate.js';
import { PLAN_STATES, type Role } from '../domain/words.js';
import type { Standing } from '../domain/work/planChanges.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { discardedPlan, planView, viewPlan, wholePlanView } from './planShapes.js';
import { snake } from './resource.js';
import { day, id, refusals, text } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const PLANNERS: readonly Role[] = ['dispatcher', 'owner'];
const byId = z.strictObject({ id });
const SEARCH_SECONDS = 10;
const WORKING_DAYS = 5;

const newPlan = z
  .strictObject({
    fromDay: day.optional().describe('absent: tomorrow'),
    workingDays: z.number().int().min(1).max(10).optional().describe('absent: 5'),
    searchSeconds: z.number().min(1).max(120).optional().describe('absent: 10'),
    seed: z.number().int().min(0).max(2_147_483_647).optional(),
    because: text(300).optional(),
  })
  .meta({ id: 'NewPlan', example: { fromDay: '2026-10-02', workingDays: 5, because: 'two new crews' } });

const at = ({ day: on, crewId, startsAt }: Standing) => ({
  day: on,
  crewId,
  startsAt: new Date(startsAt).toISOString(),
});

const viewWhole = ({ plan, unplaced, now, planned, changes, changedSince }: WholePlan) => ({
  ...viewPlan(plan),
  unplaced,
  changes: {
    now,
    planned,
    items: changes.map((change) => ({
      kind: change.kind,
      workOrderId: change.workOrderId,
      number: change.number,
      address: change.address,
      from: 'from' in change ? at(change.from) : null,
      to: 'to' in change ? at(change.to) : null,
      why: change.why,
    })),
  },
  changedSince,
});

/** Plans: asked for, searched in the background, looked at, accepted or discarded. */
export function registerPlanRoutes(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/plans',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'askForPlan',
        summary:
          'Ask for a plan of coming days; 202, it is searched in the background: look at it for progress',
        tags: ['plans'],
        body: newPlan,
        response: { 202: planView, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof newPlan>;
        const fromDay = body.fromDay ?? addDays(house.zone.dayOf(house.clock.now()), 1);
        const plan = await askPlan(house, stores, {
          fromDay,
          workingDays: body.workingDays ?? WORKING_DAYS,
          searchSeconds: body.searchSeconds ?? SEARCH_SECONDS,
          seed: body.seed ?? dayNumber(fromDay),
          because: body.because ?? 'asked for',
          askedBy: request.actor.name,
        });
        return {
          status: 202,
          body: viewPlan(plan),
          headers: { location: `/v1/plans/${String(plan['id'])}` },
        };
      }),
  );

  app.get(
    '/v1/plans',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listPlans',
        summary: 'Plans on record, newest first (Accept: text/csv: as CSV)',
        tags: ['plans'],
        querystring: listQuery({
          filters: {
            state: z.enum(PLAN_STATES).optional(),
            day: day.optional().describe('touches this day'),
          },
          sorts: ['createdAt', 'fromDay'],
        }),
        response: { 200: pageAnswer(planView, 'PlanPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const ask = pageAskOf(
        asked,
        [
          ...(asked['state'] === undefined
            ? []
            : [{ column: 'state', is: '=' as const, value: asked['state'] }]),
          ...(asked['day'] === undefined
            ? []
            : [
                { column: 'from_day', is: '<=' as const, value: asked['day'] },
                { column: 'to_day', is: '>=' as const, value: asked['day'] },
              ]),
        ],
        { list: 'plans', columnOf: snake, searchColumns: [], defaultSort: '-createdAt' },
      );
      return answerList(house, request, reply, ask, {
        table: 'plan',
        item: planView,
        views: (rows) => rows.map(viewPlan),
      });
    },
  );

  app.get(
    '/v1/plans/:id',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getPlan',
        summary:
          'One plan: what it leaves out and why, what accepting it would change, whether it still holds',
        tags: ['plans'],
        params: byId,
        response: { 200: wholePlanView, ...refusals(404) },
      },
    },
    async (request) => viewWhole(await lookAtPlan(house, (request.params as { id: string }).id)),
  );

  app.post(
    '/v1/plans/:id/acceptance',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'acceptPlan',
        summary:
          'Make a proposal what crews drive; refused when something it touches has changed, saying what',
        tags: ['plans'],
        params: byId,
        response: { 200: planView, ...refusals(404, 409, 422) },
      },
    },
    async (request, reply) => {
      const planId = (request.params as { id: string }).id;
      try {
        return await write(house, request, reply, async (stores) => ({
          status: 200,
          body: viewPlan(await acceptPlan(house, stores, planId, request.actor.name)),
        }));
      } catch (error) {
        // The refusal undid its own transaction: that the plan is stale is kept in another.
        if (error instanceof Refused && error.problem.code === 'plan-stale') await markStale(house, planId);
        throw error;
      }
    },
  );

  app.post(
    '/v1/plans/:id/discarding',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'discardPlan',
        summary:
          'Nobody wants the plan; a search under way ends; says which reported absence or rain stays in force',
        tags: ['plans'],
        params: byId,
        response: { 200: discardedPlan, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: planId } = request.params as { id: string };
        const plan = viewPlan(await discardPlan(stores, planId));
        return {
          status: 200,
          body: { ...plan, staysInForce: await staysInForce(house, stores, planId) },
        };
      }),
  );

  app.post(
    '/v1/plans/:id/search-end',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'endPlanSearch',
        summary: 'End the search now; the best found so far becomes the proposal',
        tags: ['plans'],
        params: byId,
        response: { 202: planView, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => ({
        status: 202,
        body: viewPlan(await endSearch(stores, (request.params as { id: string }).id)),
      })),
  );
}
