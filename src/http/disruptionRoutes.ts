import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { hinderedVisits } from '../actions/desk/hinderedVisits.js';
import type { House } from '../actions/house.js';
import { disrupt } from '../actions/plans/disrupt.js';
import { stateOf, withdrawDisruption } from '../actions/plans/withdrawDisruption.js';
import type { Row } from '../actions/ports.js';
import { dayNumber } from '../domain/calendar/isoDate.js';
import { DISRUPTION_KINDS, type Role, TASK_KINDS } from '../domain/words.js';
import { RAIN_WORDS } from '../domain/work/closedSeason.js';
import { hinderedVisit } from './desk/hinderedShapes.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { planView, toPhoneView, viewPlan } from './planShapes.js';
import { snake } from './resource.js';
import { day, id, instant, reason, refusals, text } from './shapes.js';
import { write } from './writes.js';

const SEARCH_SECONDS = 3;
const common = {
  day: day.optional().describe('absent: today'),
  note: text(300).optional(),
  searchSeconds: z.number().min(1).max(60).optional().describe('absent: 3'),
};

const disruption = z
  .discriminatedUnion('kind', [
    z.strictObject({
      kind: z.literal('crew_sick'),
      crewId: id,
      toDay: day.optional().describe('last day it is away; absent: that day only'),
      ...common,
    }),
    z.strictObject({
      kind: z.literal('crew_short'),
      crewId: id,
      people: z.number().int().min(1).max(12).optional().describe('so many are away; absent: one'),
      memberId: id.optional().describe('or who'),
      ...common,
    }),
    z.strictObject({
      kind: z.literal('crew_broken_down'),
      crewId: id,
      backAt: instant.optional().describe('when it can go on, from where it stands; absent: not that day'),
      ...common,
    }),
    z.strictObject({
      kind: z.literal('rain'),
      depotId: id.optional().describe('absent: all depots'),
      tasks: z.array(z.enum(TASK_KINDS)).min(1).max(20).optional().describe(`absent: ${RAIN_WORDS}`),
      ...common,
    }),
  ])
  .meta({ id: 'Disruption', example: { kind: 'crew_sick', crewId: '019abcde-0000-7000-8000-000000000001' } });

const disruptionView = z
  .object({
    id: z.uuid(),
    kind: z.enum(DISRUPTION_KINDS),
    state: z.enum(['in_force', 'withdrawn', 'over']),
    day,
    toDay: day,
    name: z.string(),
    absenceId: z.uuid().nullable(),
    closedSeasonId: z.uuid().nullable(),
    planId: z.uuid().describe('the plan asked for with it'),
    reportedBy: z.string(),
    reportedAt: instant,
    withdrawnAt: instant.nullable(),
    withdrawnBy: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'ReportedDisruption', description: 'What upset a day, and whether it still counts.' });

const disrupted = z
  .object({
    disruption: disruptionView,
    plan: planView,
    toPhone: z.array(toPhoneView),
    hinderedVisits: z.array(hinderedVisit).describe('what crews cannot do any more where it stands'),
  })
  .meta({
    id: 'Disrupted',
    description: 'What is on record, the plan being searched, and promises already known to be broken.',
  });

const withdrawn = z
  .object({
    disruption: disruptionView,
    plan: planView,
    stays: reason.nullable().describe('crews drive the plan made for it until another is accepted'),
  })
  .meta({ id: 'WithdrawnDisruption', description: 'It no longer counts; its plan, if open, is discarded.' });

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const PLANNERS: readonly Role[] = ['dispatcher', 'owner'];

/** A crew sick, one short or broken down, a rain day: on record, and the rest of the day planned anew. */
export function registerDisruptionRoutes(app: FastifyInstance, house: House): void {
  const view = (r: Row) => ({
    id: r['id'],
    kind: r['kind'],
    state: stateOf(house, r),
    day: r['day'],
    toDay: r['to_day'],
    name: r['name'],
    absenceId: r['absence_id'],
    closedSeasonId: r['closed_season_id'],
    planId: r['plan_id'],
    reportedBy: r['reported_by'],
    reportedAt: r['created_at'],
    withdrawnAt: r['withdrawn_at'],
    withdrawnBy: r['withdrawn_by'],
    version: r['version'],
  });

  app.post(
    '/v1/disruptions',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'reportDisruption',
        summary:
          'A crew sick, one short or broken down, or rain: the rest of the day is planned anew from where each crew is',
        description: `Crews keep their routes until the plan is accepted. A rain day drops ${RAIN_WORDS}; looks, tests and what is done indoors stay, and nothing else outside moves into it. The promises to phone are listed.`,
        tags: ['plans'],
        body: disruption,
        response: { 202: disrupted, ...refusals(415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { day: asked, note, searchSeconds, ...what } = request.body as z.infer<typeof disruption>;
        const on = asked ?? house.zone.dayOf(house.clock.now());
        const reported = await disrupt(house, stores, request.actor, {
          day: on,
          what,
          note: note ?? null,
          searchSeconds: searchSeconds ?? SEARCH_SECONDS,
          seed: dayNumber(on),
        });
        return {
          status: 202,
          body: {
            disruption: view(reported.disruption),
            plan: viewPlan(reported.plan),
            toPhone: reported.toPhone,
            hinderedVisits: await hinderedVisits(
              house,
              stores,
              on,
              String(reported.disruption['to_day']),
              String(reported.disruption['closed_season_id'] ?? reported.disruption['absence_id']),
            ),
          },
          headers: { location: `/v1/plans/${String(reported.plan['id'])}` },
        };
      }),
  );

  app.get(
    '/v1/disruptions',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listDisruptions',
        summary: 'What upset days, newest first (Accept: text/csv: as CSV)',
        tags: ['plans'],
        querystring: listQuery({
          filters: { day: day.optional().describe('counts on this day') },
          sorts: ['createdAt', 'day'],
        }),
        response: { 200: pageAnswer(disruptionView, 'DisruptionPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where =
        asked['day'] === undefined
          ? []
          : [
              { column: 'day', is: '<=' as const, value: asked['day'] },
              { column: 'to_day', is: '>=' as const, value: asked['day'] },
            ];
      const ask = pageAskOf(asked, where, {
        list: 'disruptions',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'disruption',
        item: disruptionView,
        views: (rows) => rows.map(view),
      });
    },
  );

  app.post(
    '/v1/disruptions/:id/withdrawal',
    {
      config: { roles: PLANNERS },
      schema: {
        operationId: 'withdrawDisruption',
        summary:
          'The crew comes after all, the rain stays away: what was reported no longer counts, and its plan, if open, is discarded',
        tags: ['plans'],
        params: z.strictObject({ id }),
        response: { 200: withdrawn, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const done = await withdrawDisruption(
          house,
          stores,
          request.actor,
          (request.params as { id: string }).id,
        );
        return {
          status: 200,
          body: { disruption: view(done.disruption), plan: viewPlan(done.plan), stays: done.stays },
        };
      }),
  );
}
