import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import type { Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import {
  answerProposal,
  draftProposal,
  offerProposal,
  withdrawProposal,
} from '../actions/proposals/proposals.js';
import { takeId } from '../actions/takeId.js';
import { PROPOSAL_KINDS, PROPOSAL_STATES, type Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, id, instant, oneLine, reason, refusals, text } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const byId = z.strictObject({ id });

const proposal = z
  .object({
    id: z.uuid(),
    siteId: z.uuid(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    kind: z.enum(PROPOSAL_KINDS),
    state: z.enum(PROPOSAL_STATES),
    evidence: z.array(reason).describe('as it was when it was drafted; none: on judgement'),
    visitsSavedPerYear: z.number().nullable(),
    priceMinor: z.number().int().nullable(),
    offeredOn: day.nullable(),
    offeredBy: z.string().nullable(),
    answeredOn: day.nullable(),
    answeredBy: z.string().nullable(),
    answerBecause: z.string().nullable().describe('why it was declined or taken back'),
    note: z.string().nullable(),
    workOrderId: z
      .uuid()
      .nullable()
      .describe('of one that was accepted: the order that does it, the first of a chain'),
    version: z.number().int(),
    createdAt: instant,
    updatedAt: instant,
  })
  .meta({
    id: 'Proposal',
    description: 'A work that would spare visits or harm, offered to a client and answered.',
  });

const viewProposal = (r: Row) => ({
  id: r['id'],
  siteId: r['site_id'],
  lineId: r['line_id'],
  pitId: r['pit_id'],
  kind: r['kind'],
  state: r['state'],
  evidence: r['evidence'],
  visitsSavedPerYear: r['visits_saved_per_year'],
  priceMinor: r['price_minor'],
  offeredOn: r['offered_on'],
  offeredBy: r['offered_by'],
  answeredOn: r['answered_on'],
  answeredBy: r['answered_by'],
  answerBecause: r['answer_because'],
  note: r['note'],
  workOrderId: r['work_order_id'],
  version: r['version'],
  createdAt: r['created_at'],
  updatedAt: r['updated_at'],
});

const newProposal = z
  .strictObject({
    id: id.optional(),
    siteId: id,
    kind: z.enum(PROPOSAL_KINDS),
    lineId: id.optional().describe('of a cleanout or a smooth pipe'),
    pitId: id.optional().describe('of an alarm or a second pump'),
    priceMinor: z.number().int().min(0).max(2_000_000_000).nullable().optional(),
    note: text(2000).nullable().optional(),
  })
  .meta({
    id: 'NewProposal',
    example: {
      siteId: '019abcde-0000-7000-8000-000000000001',
      kind: 'smooth_pipe',
      lineId: '019abcde-0000-7000-8000-000000000002',
      priceMinor: 450_000,
    },
  });
const offer = z
  .strictObject({ offeredOn: day.optional().describe('absent: today') })
  .meta({ id: 'ProposalOffer' });
const answer = z
  .strictObject({
    answer: z.enum(['accepted', 'declined']),
    answeredBy: oneLine(200).describe('who of the client'),
    answeredOn: day.optional().describe('absent: today'),
    because: text(2000).optional(),
  })
  .meta({
    id: 'ProposalAnswer',
    example: { answer: 'declined', answeredBy: 'A. Reed', because: 'sells the house in spring' },
  });
const withdrawal = z.strictObject({ because: text(500) }).meta({ id: 'ProposalWithdrawal' });

/** Proposals: drafted with their evidence, offered, accepted or declined. */
export function registerProposalRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/proposals',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listProposals',
        summary: 'Proposals on record, newest first (Accept: text/csv: as CSV)',
        tags: ['proposals'],
        querystring: listQuery({
          filters: {
            state: z.enum(PROPOSAL_STATES).optional(),
            kind: z.enum(PROPOSAL_KINDS).optional(),
            siteId: id.optional(),
            lineId: id.optional(),
            pitId: id.optional(),
          },
          sorts: ['createdAt', 'visitsSavedPerYear', 'offeredOn'],
        }),
        response: { 200: pageAnswer(proposal, 'ProposalPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where = ['state', 'kind', 'siteId', 'lineId', 'pitId'].flatMap((name): Condition[] =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=', value: asked[name] }],
      );
      const ask = pageAskOf(asked, where, {
        list: 'proposals',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'proposal',
        item: proposal,
        views: (rows) => rows.map(viewProposal),
      });
    },
  );

  app.get(
    '/v1/proposals/:id',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getProposal',
        summary: 'One proposal with its evidence',
        tags: ['proposals'],
        params: byId,
        response: { 200: proposal, ...refusals(404) },
      },
    },
    async (request) => viewProposal(await proposalOf(house.stores, (request.params as { id: string }).id)),
  );

  app.post(
    '/v1/proposals',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'draftProposal',
        summary: 'Draft a proposal; what the records speak for is kept with it',
        tags: ['proposals'],
        body: newProposal,
        response: { 201: proposal, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof newProposal>;
        const proposalId = body.id ?? newId();
        const isNew = body.id === undefined || (await takeId(stores, 'proposal', proposalId, body));
        const row = isNew
          ? await draftProposal(house, stores, {
              id: proposalId,
              siteId: body.siteId,
              kind: body.kind,
              lineId: body.lineId ?? null,
              pitId: body.pitId ?? null,
              priceMinor: body.priceMinor ?? null,
              note: body.note ?? null,
            })
          : await proposalOf(stores, proposalId);
        return {
          status: 201,
          body: viewProposal(row),
          headers: { location: `/v1/proposals/${proposalId}` },
        };
      }),
  );

  const step = <Body>(
    name: string,
    operationId: string,
    summary: string,
    body: z.ZodType<Body>,
    work: (stores: Stores, proposalId: string, body: Body, by: string) => Promise<Row>,
  ) =>
    app.post(
      `/v1/proposals/:id/${name}`,
      {
        config: { roles: OFFICE },
        schema: {
          operationId,
          summary,
          tags: ['proposals'],
          params: byId,
          body,
          response: { 200: proposal, ...refusals(404, 409, 415, 422) },
        },
      },
      (request, reply) =>
        write(house, request, reply, async (stores) => {
          const { id: proposalId } = request.params as { id: string };
          const row = await work(stores, proposalId, request.body as Body, request.actor.name);
          return { status: 200, body: viewProposal(row) };
        }),
    );

  step('offer', 'offerProposal', 'The client was offered it', offer, (stores, proposalId, body, by) =>
    offerProposal(house, stores, proposalId, by, body.offeredOn ?? null),
  );
  step(
    'answer',
    'answerProposal',
    'What the client said, for good; a yes makes the order',
    answer,
    (stores, proposalId, body) =>
      answerProposal(house, stores, proposalId, {
        answer: body.answer,
        answeredBy: body.answeredBy,
        answeredOn: body.answeredOn ?? null,
        because: body.because ?? null,
      }),
  );
  step(
    'withdrawal',
    'withdrawProposal',
    'Take back what was not answered',
    withdrawal,
    (stores, proposalId, body) => withdrawProposal(house, stores, proposalId, body.because),
  );
}

async function proposalOf(stores: Stores, proposalId: string): Promise<Row> {
  const row = await stores.rows.get('proposal', proposalId);
  if (!row) throw new Refused({ code: 'not-found', resource: 'proposal', id: proposalId });
  return row;
}
