import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { erasePerson, lookAtErasure } from '../actions/erasure/erasePerson.js';
import { ELSEWHERE } from '../actions/erasure/keptRecords.js';
import type { ErasureAsk } from '../actions/erasure/knownOf.js';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { ERASED_PEOPLE, type Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, id, instant, oneLine, refusals } from './shapes.js';
import { write } from './writes.js';

const OWNER: readonly Role[] = ['owner'];

const ask = z
  .strictObject({
    person: z.enum(ERASED_PEOPLE),
    personId: id.describe('of the client, the contact, or the call'),
    askedOn: day.optional().describe('absent: today'),
    words: z
      .array(oneLine(100, 3))
      .max(20)
      .optional()
      .describe(
        'other words that mean the person, as "Mrs Reed"; written over wherever they stand, a single word as a name is written (Hill, HILL)',
      ),
    photographs: z
      .boolean()
      .optional()
      .describe('of a client: all that were taken at the houses in the client’s time'),
    attachmentIds: z.array(id).max(200).optional().describe('photographs that show the person'),
  })
  .meta({
    id: 'ErasureAsk',
    example: { person: 'client', personId: '019abcde-0000-7000-8000-000000000001', photographs: true },
  });

const kept = z.object({
  what: z.string().meta({ example: 'water_records' }),
  count: z.number().int(),
  why: z.string(),
  until: day.nullable().describe('after it the last of them may go; null: they name nobody and stay'),
});
const foundText = z.object({
  resource: z.string(),
  id: z.uuid().nullable(),
  field: z.string(),
  excerpt: z.string(),
});
const elsewhere = z.array(z.string()).describe('copies that this service cannot reach');

const lookView = z
  .object({
    person: z.enum(ERASED_PEOPLE),
    personId: z.uuid(),
    records: z
      .array(z.object({ resource: z.string(), id: z.uuid(), fields: z.array(z.string()) }))
      .describe('records that are the person: these fields are emptied, the record is archived'),
    texts: z.array(foundText).describe('other places that hold the person’s words: written over'),
    photographs: z.array(z.uuid()).describe('removed'),
    kept: z.array(kept).describe('stays, and why'),
    toLookAt: z
      .array(foundText)
      .describe(
        'may mean the person: a part of the name; away from the person’s houses a name of one word, of another person or of a place, a number of few digits; any name in that of a place or thing. Not touched unless given in `words`, in names of places and things not even then',
      ),
    blockedBy: z
      .array(z.object({ code: z.enum(['open_order', 'care_terms']), id: z.uuid(), text: z.string() }))
      .describe('ends first'),
    elsewhere,
  })
  .meta({ id: 'ErasureLook', description: 'What an erasure would do. Nothing was changed.' });

const counts = z.record(z.string(), z.number().int());
const erasureView = z
  .object({
    id: z.uuid(),
    person: z.enum(ERASED_PEOPLE),
    personId: z.uuid(),
    askedOn: day,
    erased: z.object({
      records: counts.describe('emptied, by kind'),
      texts: counts.describe('fields written over, by kind'),
      photographs: z.number().int(),
      mailsDropped: z.number().int(),
    }),
    kept: z.array(kept),
    doneBy: z.string(),
    doneAt: instant,
  })
  .meta({
    id: 'Erasure',
    description: 'Proof that a person was erased; it holds none of the person’s words.',
  });
const doneView = erasureView
  .extend({
    toLookAt: z.array(foundText).describe('told once: not repeated to the same Idempotency-Key'),
    elsewhere,
  })
  .meta({ id: 'ErasureDone' });

const viewErasure = (r: Row) => ({
  id: r['id'],
  person: r['person'],
  personId: r['person_id'],
  askedOn: r['asked_on'],
  erased: r['erased'],
  kept: r['kept'],
  doneBy: r['done_by'],
  doneAt: r['done_at'],
});

/** Erasing what is known of a person who asks for it: looked at first, then done. */
export function registerErasureRoutes(app: FastifyInstance, house: House): void {
  const askOf = (body: z.infer<typeof ask>): ErasureAsk => ({
    person: body.person,
    personId: body.personId,
    askedOn: body.askedOn ?? house.zone.dayOf(house.clock.now()),
    words: body.words ?? [],
    photographs: body.photographs ?? false,
    attachmentIds: body.attachmentIds ?? [],
  });

  app.post(
    '/v1/erasures/dry-run',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'lookAtErasure',
        summary:
          'What erasing a person would empty, write over and remove, what must stay and why; changes nothing',
        tags: ['erasures'],
        body: ask,
        response: { 200: lookView, ...refusals(404, 415, 422) },
      },
    },
    // In a transaction of its own, so that what is looked at is of one moment.
    (request) =>
      house.transact(request.actor, (stores) =>
        lookAtErasure(house, stores, askOf(request.body as z.infer<typeof ask>)),
      ),
  );

  app.post(
    '/v1/erasures',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'erasePerson',
        summary:
          'Erase a person for good: records emptied, words written over everywhere, photographs removed',
        description:
          'Readings, work, litres and money stay without the person. Not done while orders are open or care terms in force at a house of the client.',
        tags: ['erasures'],
        body: ask,
        response: { 201: doneView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { row, toLookAt, fileKeys } = await erasePerson(
          house,
          stores,
          request.actor,
          askOf(request.body as z.infer<typeof ask>),
        );
        const view = { ...viewErasure(row), elsewhere: [...ELSEWHERE] };
        return {
          status: 201,
          body: { ...view, toLookAt },
          bodyAgain: { ...view, toLookAt: [] },
          // What a crash leaves here is swept within a day: no record points to it.
          afterwards: async () => {
            for (const key of fileKeys) await house.files?.store.remove(key);
          },
        };
      }),
  );

  app.get(
    '/v1/erasures',
    {
      config: { roles: OWNER },
      schema: {
        operationId: 'listErasures',
        summary: 'Who was erased when, by id, and what was kept; newest first (Accept: text/csv: as CSV)',
        tags: ['erasures'],
        querystring: listQuery({ filters: { personId: id.optional() }, sorts: ['doneAt'] }),
        response: { 200: pageAnswer(erasureView, 'ErasurePage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where =
        asked['personId'] === undefined
          ? []
          : [{ column: 'person_id', is: '=' as const, value: asked['personId'] }];
      const page = pageAskOf(asked, where, {
        list: 'erasures',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-doneAt',
      });
      return answerList(house, request, reply, page, {
        table: 'erasure',
        item: erasureView,
        views: (rows) => rows.map(viewErasure),
      });
    },
  );
}
