import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import { answerQuestion } from '../../actions/desk/answerQuestion.js';
import { LEVELLED_WEEKS, weeksAhead } from '../../actions/desk/weeksAhead.js';
import type { House } from '../../actions/house.js';
import { ownerSettings } from '../../actions/ownerSettings.js';
import type { Role } from '../../domain/words.js';
import { workloadChart } from '../../papers/workloadChart.js';
import { answerBody, answerOf } from '../answerShapes.js';
import { question, viewQuestion } from '../routeShapes.js';
import { day, id, queryNumber, refusals } from '../shapes.js';
import { write } from '../writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const weeksQuery = z.strictObject({
  weeks: queryNumber(z.number().int().min(1).max(26)).default(LEVELLED_WEEKS),
});

const workloadView = z
  .object({
    weeks: z.array(
      z.object({
        monday: day,
        placedVisits: z.number().int().describe('on routes that crews drive'),
        placedHours: z.number(),
        visits: z.number().int().describe('placed, on orders, and falling due, evened out'),
        hours: z
          .object({ q10: z.number(), q50: z.number(), q90: z.number() })
          .describe('crew-hours, the way there included, with an 80 % band of the minutes visits take'),
        capacityHours: z.number().describe('of all shifts less absences; of this week what is left'),
        asDue: z.object({ visits: z.number().int(), hours: z.number() }).describe('before evening out'),
      }),
    ),
    moved: z
      .array(z.object({ siteId: z.uuid(), address: z.string(), dueOn: day, on: day }))
      .describe(
        'visits planned off their due day so that weeks are even: sooner, and later only what is late already and in little danger',
      ),
    late: z.number().int().describe('orders without a place whose day has come'),
  })
  .meta({ id: 'Workload', description: 'The coming weeks against the hours the crews have.' });

const knownView = z
  .object({
    lines: z.number().int(),
    linesRead: z.number().int().describe('with a reading'),
    systemsUnseen: z.number().int().describe('with a line nobody has read'),
    firstSurveys: z.object({
      ordered: z.number().int(),
      until: day.nullable().describe('the last day one is ordered for'),
      done: z.number().int(),
      perWeek: z.number().int().describe('setting surveys.perWeek'),
    }),
    assumed: z.record(z.string(), z.number().int()).describe('lines by the fact that nobody has told'),
    questions: z.object({ asked: z.number().int(), answered: z.number().int() }),
  })
  .meta({ id: 'KnownSoFar', description: 'How far a business that moved in has got to know its lines.' });

/** The first months of a business that moves in, and the load of the weeks ahead. */
export function registerFirstMonthsRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/workload',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getWorkload',
        summary:
          'The coming weeks: what is placed, on orders and falling due, evened out, against the crews’ hours',
        tags: ['days'],
        querystring: weeksQuery,
        response: { 200: workloadView, ...refusals() },
      },
    },
    async (request) => weeksAhead(house, house.stores, (request.query as { weeks: number }).weeks),
  );

  app.get(
    '/v1/workload.svg',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'drawWorkload',
        summary: 'The same as a picture (SVG)',
        tags: ['days'],
        querystring: weeksQuery,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals() },
      },
    },
    async (request, reply) => {
      const { weeks } = await weeksAhead(house, house.stores, (request.query as { weeks: number }).weeks);
      return reply.type('image/svg+xml').serializer(String).send(workloadChart({ weeks }));
    },
  );

  app.get(
    '/v1/known-so-far',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getKnownSoFar',
        summary: 'Lines read and unseen, first surveys ordered and done, assumed facts, questions answered',
        tags: ['days'],
        response: { 200: knownView, ...refusals() },
      },
    },
    async () => {
      const row = await house.stores.desk.knownSoFar();
      return {
        lines: row['lines'],
        linesRead: row['read'],
        systemsUnseen: row['systems_unseen'],
        firstSurveys: {
          ordered: row['surveys_ordered'],
          until: row['surveys_until'],
          done: row['surveys_done'],
          perWeek: (await ownerSettings(house.stores)).surveys.perWeek,
        },
        assumed: row['assumed'],
        questions: { asked: row['asked'], answered: row['answered'] },
      };
    },
  );

  app.post(
    '/v1/work-orders/:id/answer',
    {
      config: { roles: ['technician', 'dispatcher', 'owner'] },
      schema: {
        operationId: 'answerQuestion',
        summary: "Answer the one question of a visit; a technician: of the own crew's route of the day",
        tags: ['work-orders'],
        params: z.strictObject({ id }),
        body: answerBody,
        response: { 200: question, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: orderId } = request.params as { id: string };
        const body = request.body as z.infer<typeof answerBody>;
        const at = house.clock.now().toISOString();
        const order = await answerQuestion(
          house,
          stores,
          request.actor,
          answerOf(body, orderId, newId(), at),
        );
        return { status: 200, body: viewQuestion(order['question']) };
      }),
  );
}
