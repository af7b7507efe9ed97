import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { judgeReading } from '../actions/judgeReading.js';
import type { Condition, Row } from '../actions/ports.js';
import { JUDGEMENTS, LINE_KINDS, METHODS, PHASES, type Role, VERDICTS } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { day, id, instant, refusals, share } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];

const review = z
  .object({
    inspectionId: z.uuid(),
    lineId: z.uuid(),
    lineName: z.string(),
    lineKind: z.enum(LINE_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    observedAt: instant,
    author: z.string(),
    phase: z.enum(PHASES),
    method: z.enum(METHODS).nullable(),
    occlusion: share.nullable(),
    weight: share.describe(
      'how far it counts: 1 when confirmed, 0 when dismissed, else what the statistics take it for',
    ),
    holdsDueOn: day
      .nullable()
      .describe('the due date that stands on this reading until it is judged; null: it holds none'),
    suspicion: z.string().describe('why it is doubted'),
    verdict: z.enum(VERDICTS).describe('settled: later readings made it plausible before anybody judged it'),
    decidedBy: z.string().nullable(),
    decidedAt: instant.nullable(),
  })
  .meta({
    id: 'ReadingReview',
    description:
      'A reading the statistics doubt, for a person to judge; or a plug that nobody could foresee (no method, no occlusion): confirmed, deposit filled the line and it fouls faster than thought; dismissed, something else stopped it and it counts no more.',
  });

const viewReview = (r: Row) => ({
  inspectionId: r['id'],
  lineId: r['line_id'],
  lineName: r['line_name'],
  lineKind: r['line_kind'],
  siteId: r['site_id'],
  address: r['address'],
  observedAt: r['observed_at'],
  author: r['author'],
  phase: r['phase'],
  method: r['method'],
  occlusion: r['occlusion'],
  weight: r['weight'],
  holdsDueOn: r['holds_due_on'],
  suspicion: r['suspicion'],
  verdict: r['verdict'],
  decidedBy: r['decided_by'],
  decidedAt: r['decided_at'],
});

/** The review list: readings that do not fit, confirmed or dismissed by a person. */
export function registerReviewRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/reading-reviews',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listReadingReviews',
        summary:
          'Readings the statistics doubt and plugs nobody could foresee, the newest first (Accept: text/csv: as CSV)',
        tags: ['reading-reviews'],
        querystring: listQuery({
          filters: {
            verdict: z.enum(VERDICTS).optional(),
            lineId: id.optional(),
            siteId: id.optional(),
          },
          sorts: ['urgency', 'weight', 'observedAt'],
          search: true,
        }),
        response: { 200: pageAnswer(review, 'ReadingReviewPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['verdict', 'lineId', 'siteId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      const ask = pageAskOf(asked, where, {
        list: 'reading-reviews',
        columnOf: snake,
        searchColumns: ['address', 'line_name', 'author'],
        defaultSort: '-urgency',
      });
      return answerList(house, request, reply, ask, {
        table: 'review_list',
        item: review,
        views: (rows) => rows.map(viewReview),
      });
    },
  );

  app.post(
    '/v1/reading-reviews/:id/verdict',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'judgeReading',
        summary: 'Confirm or dismiss a doubted reading or plug, by the id of its inspection',
        tags: ['reading-reviews'],
        params: z.strictObject({ id }),
        body: z
          .strictObject({ verdict: z.enum(JUDGEMENTS) })
          .meta({ id: 'Verdict', example: { verdict: 'dismissed' } }),
        response: { 200: review, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const { verdict } = request.body as { verdict: (typeof JUDGEMENTS)[number] };
        return {
          status: 200,
          body: viewReview(await judgeReading(stores, request.actor, id, verdict, house.clock.now())),
        };
      }),
  );
}
