import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { disrupt } from '../actions/plans/disrupt.js';
import { dayNumber } from '../domain/calendar/isoDate.js';
import { TASK_KINDS } from '../domain/words.js';
import { planView, toPhoneView, viewPlan } from './planShapes.js';
import { day, id, instant, refusals, text } from './shapes.js';
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
      tasks: z
        .array(z.enum(TASK_KINDS))
        .min(1)
        .max(20)
        .optional()
        .describe('absent: digs and outside jetting'),
      ...common,
    }),
  ])
  .meta({ id: 'Disruption', example: { kind: 'crew_sick', crewId: '019abcde-0000-7000-8000-000000000001' } });

const disrupted = z.object({ plan: planView, toPhone: z.array(toPhoneView) }).meta({
  id: 'Disrupted',
  description: 'The plan being searched, and promises already known to be broken.',
});

/** A crew sick, one short or broken down, a rain day: on record, and the rest of the day planned anew. */
export function registerDisruptionRoutes(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/disruptions',
    {
      config: { roles: ['dispatcher', 'owner'] },
      schema: {
        operationId: 'reportDisruption',
        summary:
          'A crew sick, one short or broken down, or rain: the rest of the day is planned anew from where each crew is',
        description:
          'Crews keep their routes until the plan is accepted. A rain day drops digs and outside work and lists the promises to phone.',
        tags: ['plans'],
        body: disruption,
        response: { 202: disrupted, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { day: asked, note, searchSeconds, ...what } = request.body as z.infer<typeof disruption>;
        const on = asked ?? house.zone.dayOf(house.clock.now());
        const { plan, toPhone } = await disrupt(house, stores, request.actor, {
          day: on,
          what,
          note: note ?? null,
          searchSeconds: searchSeconds ?? SEARCH_SECONDS,
          seed: dayNumber(on),
        });
        return {
          status: 202,
          body: { plan: viewPlan(plan), toPhone },
          headers: { location: `/v1/plans/${String(plan['id'])}` },
        };
      }),
  );
}
