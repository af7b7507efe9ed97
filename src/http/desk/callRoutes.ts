import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import { rota } from '../../actions/desk/onCallRota.js';
import { takeCall } from '../../actions/desk/takeCall.js';
import type { House, Stores } from '../../actions/house.js';
import type { Condition, Row } from '../../actions/ports.js';
import { Refused, ruleBroken } from '../../actions/problems.js';
import { addDays, daysBetween } from '../../domain/calendar/isoDate.js';
import { BASEMENTS, CALL_KINDS, type CallKind, type Role, URGENCIES } from '../../domain/words.js';
import {
  CALL_QUESTIONS,
  type CallAnswers,
  NOTHING_ANSWERED,
  treatedAs,
} from '../../domain/work/callTriage.js';
import { phoneSheet } from '../../domain/work/phoneSheet.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from '../paging.js';
import { snake } from '../resource.js';
import { day, id, instant, oneLine, phoneLine, reason, refusals, text } from '../shapes.js';
import { wholeOrder } from '../workOrderRoutes.js';
import { wholeOrderView } from '../workOrderShapes.js';
import { write } from '../writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const ROTA_DAYS = 14;
const MOST_ROTA_DAYS = 92;

const answer = z.enum(['yes', 'no', 'unknown']);
const answers = z.strictObject(
  Object.fromEntries(CALL_QUESTIONS.map((name) => [name, answer.optional()])) as Record<
    (typeof CALL_QUESTIONS)[number],
    z.ZodOptional<typeof answer>
  >,
);
const answersOf = (said: z.infer<typeof answers> | undefined): CallAnswers => ({
  ...NOTHING_ANSWERED,
  ...Object.fromEntries(Object.entries(said ?? {}).filter(([, value]) => value !== undefined)),
});

const newSite = z.strictObject({
  address: oneLine(300),
  town: oneLine(120),
  postalCode: oneLine(20).optional(),
  latitude: z.number().min(-90).max(90).optional(),
  longitude: z.number().min(-180).max(180).optional(),
  basement: z.enum(BASEMENTS).optional(),
  accessNotes: text(2000).optional(),
});

const callBody = z
  .strictObject({
    kind: z.enum(CALL_KINDS),
    what: text(2000).optional().describe('what the caller sees, in their words'),
    receivedAt: instant.optional().describe('absent: now'),
    caller: z.strictObject({ name: oneLine(200).optional(), phone: phoneLine(40).optional() }).optional(),
    siteId: id.optional().describe('the house, where it is on record'),
    newSite: newSite.optional().describe('or the house, where it is not: address and town are enough'),
    clientId: id.optional().describe('with newSite: whose it is; absent: a new client of the caller’s name'),
    answers: answers.optional().describe('what the caller can say from a dry place; absent: unknown'),
  })
  .meta({
    id: 'NewCall',
    example: {
      kind: 'water_rising',
      what: 'ankle deep beside the furnace',
      caller: { name: 'A. Reed', phone: '555 0100' },
      newSite: { address: '12 Marsh Gate', town: 'Brindle', basement: 'finished' },
      answers: { waterInHouse: 'yes', pumpRuns: 'no' },
    },
  });

const sheetLine = z.object({ code: z.string(), text: z.string(), source: z.string() });
const sheetView = z
  .object({
    sayFirst: z.array(sheetLine),
    ask: z.array(sheetLine.extend({ answer: z.enum(CALL_QUESTIONS) })),
    whileTheyWait: z.array(sheetLine),
    never: z.array(sheetLine),
  })
  .meta({
    id: 'PhoneSheet',
    description:
      'What to say and ask, in the order in which it is said, as far as the caller has answered: with a smell of gas only to leave the house; nothing that is answered is asked again. Local emergency services and licensed practice come first.',
  });

const taker = z.object({
  kind: z.enum(['routes', 'crew_on_shift', 'next_shift', 'on_call', 'nobody']),
  outOfHours: z.boolean(),
  crews: z.array(z.object({ id: z.uuid(), name: z.string(), from: instant, to: instant })),
  people: z.array(
    z.object({ id: z.uuid(), name: z.string(), phone: z.string().nullable(), until: instant.nullable() }),
  ),
  text: z.string(),
});
const callView = z
  .object({
    id: z.uuid(),
    kind: z.enum(CALL_KINDS),
    receivedAt: instant,
    takenBy: z.string(),
    callerName: z.string().nullable(),
    callerPhone: z.string().nullable(),
    clientId: z.uuid().nullable(),
    siteId: z.uuid(),
    workOrderId: z.uuid().nullable(),
    what: z.string().nullable(),
    answers: z.record(z.string(), answer),
    urgency: z.enum(URGENCIES),
    respondBy: instant,
    version: z.number().int(),
  })
  .meta({ id: 'Call', description: 'Somebody phoned, and the order that came of it.' });
const takenView = z
  .object({
    call: callView,
    treatedAs: z.enum(CALL_KINDS),
    reasons: z.array(reason),
    site: z.object({ id: z.uuid(), address: z.string(), town: z.string(), onMap: z.boolean() }),
    workOrder: wholeOrderView,
    addedToOpenOrder: z
      .boolean()
      .describe(
        'the house had an open order for a call already: this call was added to it, with the sooner time',
      ),
    whoGoes: taker,
    sheet: sheetView,
    warnings: z.array(reason),
  })
  .meta({ id: 'TakenCall' });

const viewCall = (row: Row) => ({
  id: row['id'],
  kind: row['kind'],
  receivedAt: row['received_at'],
  takenBy: row['taken_by'],
  callerName: row['caller_name'],
  callerPhone: row['caller_phone'],
  clientId: row['client_id'],
  siteId: row['site_id'],
  workOrderId: row['work_order_id'],
  what: row['what'],
  answers: row['answers'],
  urgency: row['urgency'],
  respondBy: row['respond_by'],
  version: row['version'],
});

const rotaView = z
  .object({
    from: day,
    to: day,
    turns: z.array(
      z.object({
        id: z.uuid(),
        memberId: z.uuid(),
        memberName: z.string(),
        crewName: z.string().nullable(),
        phone: z.string().nullable(),
        fromAt: instant,
        toAt: instant,
        turn: z.number().int(),
        note: z.string().nullable(),
      }),
    ),
    gaps: z
      .array(z.object({ from: instant, to: instant, hours: z.number() }))
      .describe('out of all shifts, and nobody on call'),
  })
  .meta({ id: 'Rota', description: 'Who takes emergencies out of hours, and when nobody does.' });

/** Calls: triage, an order with a time to be there, who goes, and what to say on the phone. */
export function registerCallRoutes(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/calls',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'takeCall',
        summary:
          'Somebody phones about water: triage, an order with a time to be there, who goes, what to say on the phone',
        description:
          'The house may be new: address and town are enough, on the map or not, and no line need be known. Look first with GET /v1/search by phone or street.',
        tags: ['calls'],
        body: callBody,
        response: { 201: takenView, ...refusals(415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof callBody>;
        const callId = newId();
        const taken = await takeCall(house, stores, request.actor, callId, {
          kind: body.kind,
          receivedAt: body.receivedAt ?? house.clock.now().toISOString(),
          what: body.what ?? null,
          caller: { name: body.caller?.name ?? null, phone: body.caller?.phone ?? null },
          place: placeOf(body),
          answers: answersOf(body.answers),
        });
        const { site } = taken;
        return {
          status: 201,
          headers: { location: `/v1/calls/${callId}` },
          body: {
            call: viewCall(taken.call),
            treatedAs: taken.triage.kind,
            reasons: taken.triage.reasons,
            site: {
              id: site['id'],
              address: site['address'],
              town: site['town'],
              onMap: site['latitude'] !== null,
            },
            workOrder: await wholeOrder(stores, taken.orderId),
            addedToOpenOrder: taken.isAdded,
            whoGoes: taken.takenBy,
            sheet: phoneSheet(taken.triage.kind, answersOf(body.answers)),
            warnings: taken.warnings,
          },
        };
      }),
  );

  app.get(
    '/v1/calls',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listCalls',
        summary: 'Calls, the newest first unless sorted otherwise (Accept: text/csv: as CSV)',
        tags: ['calls'],
        querystring: listQuery({
          filters: {
            kind: z.enum(CALL_KINDS).optional(),
            urgency: z.enum(URGENCIES).optional(),
            siteId: id.optional(),
            receivedFrom: instant.optional(),
          },
          sorts: ['receivedAt', 'respondBy'],
        }),
        response: { 200: pageAnswer(callView, 'CallPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['kind', 'urgency', 'siteId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['receivedFrom'] !== undefined)
        where.push({ column: 'received_at', is: '>=', value: asked['receivedFrom'] });
      const ask = pageAskOf(asked, where, {
        list: 'calls',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-receivedAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'phone_call',
        item: callView,
        views: (rows) => rows.map(viewCall),
      });
    },
  );

  app.get(
    '/v1/calls/:id',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getCall',
        summary: 'One call',
        tags: ['calls'],
        params: z.strictObject({ id }),
        response: { 200: callView, ...refusals(404) },
      },
    },
    async (request) => viewCall(await callOf(house.stores, (request.params as { id: string }).id)),
  );

  app.get(
    '/v1/phone-sheets/:kind',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getPhoneSheet',
        summary: 'What to say and ask on the phone, as far as the caller has answered',
        tags: ['calls'],
        params: z.strictObject({ kind: z.enum(CALL_KINDS) }),
        querystring: answers,
        response: { 200: sheetView, ...refusals() },
      },
    },
    async (request) => {
      const { kind } = request.params as { kind: CallKind };
      const said = answersOf(request.query as z.infer<typeof answers>);
      return phoneSheet(treatedAs(kind, said), said);
    },
  );

  app.get(
    '/v1/rota',
    {
      config: { roles: [...OFFICE, 'technician'] },
      schema: {
        operationId: 'getRota',
        summary: 'Who is on call between two days, and when nobody is',
        tags: ['calls'],
        querystring: z.strictObject({
          from: day.optional().describe('absent: today'),
          to: day.optional().describe(`absent: ${ROTA_DAYS} days on`),
        }),
        response: { 200: rotaView, ...refusals(422) },
      },
    },
    async (request) => {
      const asked = request.query as { from?: string; to?: string };
      const from = asked.from ?? house.zone.dayOf(house.clock.now());
      const to = asked.to ?? addDays(from, ROTA_DAYS - 1);
      if (to < from || daysBetween(from, to) >= MOST_ROTA_DAYS)
        throw ruleBroken(
          'rota',
          '#/querystring:to',
          `${to} is not within ${MOST_ROTA_DAYS} days from ${from}`,
          `a day from ${from} to ${addDays(from, MOST_ROTA_DAYS - 1)}`,
        );
      const { turns, gaps } = await rota(house, house.stores, from, to);
      return {
        from,
        to,
        turns: turns.map((row) => ({
          id: row['id'],
          memberId: row['member_id'],
          memberName: row.memberName,
          crewName: row.crewName,
          phone: row.phone,
          fromAt: row['from_at'],
          toAt: row['to_at'],
          turn: row['turn'],
          note: row['note'],
        })),
        gaps: gaps.map((gap) => ({
          from: new Date(gap.from).toISOString(),
          to: new Date(gap.to).toISOString(),
          hours: Math.round((gap.to - gap.from) / 360_000) / 10,
        })),
      };
    },
  );
}

function placeOf(body: z.infer<typeof callBody>) {
  const { siteId, newSite: said, clientId } = body;
  if ((siteId === undefined) === (said === undefined))
    throw ruleBroken('call', '#/siteId', 'neither or both of siteId and newSite', 'one of them');
  if (siteId !== undefined) {
    if (clientId !== undefined)
      throw ruleBroken('call', '#/clientId', 'the site has its client', 'leave it out with siteId');
    return { siteId };
  }
  if ((said?.latitude === undefined) !== (said?.longitude === undefined))
    throw ruleBroken('call', '#/newSite/longitude', 'only one of latitude and longitude', 'both, or neither');
  return {
    clientId: clientId ?? null,
    site: {
      address: said?.address ?? '',
      town: said?.town ?? '',
      postalCode: said?.postalCode ?? null,
      latitude: said?.latitude ?? null,
      longitude: said?.longitude ?? null,
      basement: said?.basement ?? ('unknown' as const),
      accessNotes: said?.accessNotes ?? null,
    },
  };
}

async function callOf(stores: Stores, callId: string): Promise<Row> {
  const row = await stores.rows.get('phone_call', callId);
  if (!row) throw new Refused({ code: 'not-found', resource: 'phone_call', id: callId });
  return row;
}
