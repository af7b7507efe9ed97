import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Condition, Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { id, instant, refusals } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];

const conflict = z
  .object({
    id: z.uuid(),
    resource: z.string(),
    resourceId: z.uuid(),
    author: z.string(),
    content: z
      .unknown()
      .describe(
        'what was sent and refused; null: settled so long ago that it is not kept (setting `keeping.conflictDays`)',
      ),
    because: z.string().nullable().describe('why it was not taken'),
    settledAt: instant.nullable(),
    settledBy: z.string().nullable(),
    createdAt: instant,
  })
  .meta({
    id: 'Conflict',
    description: 'What somebody sent and another had said otherwise, kept for a person.',
  });

const viewConflict = (r: Row) => ({
  id: r['id'],
  resource: r['resource'],
  resourceId: r['resource_id'],
  author: r['author'],
  content: r['content'],
  because: r['because'],
  settledAt: r['settled_at'],
  settledBy: r['settled_by'],
  createdAt: r['created_at'],
});

/** What was refused because its id was taken: nothing that came in is silently dropped. */
export function registerConflictRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/conflicts',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listConflicts',
        summary: 'Content that came with a taken id, kept for a person to settle (Accept: text/csv: as CSV)',
        tags: ['conflicts'],
        querystring: listQuery({
          filters: { settled: z.stringbool().optional(), resourceId: id.optional() },
          sorts: ['createdAt'],
        }),
        response: { 200: pageAnswer(conflict, 'ConflictPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = [];
      if (asked['settled'] !== undefined)
        where.push({ column: 'settled_at', is: asked['settled'] ? 'not-null' : 'null' });
      if (asked['resourceId'] !== undefined)
        where.push({ column: 'resource_id', is: '=', value: asked['resourceId'] });
      const ask = pageAskOf(asked, where, {
        list: 'conflicts',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'conflict',
        item: conflict,
        views: (rows) => rows.map(viewConflict),
      });
    },
  );

  app.post(
    '/v1/conflicts/:id/settlement',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'settleConflict',
        summary: 'A person has looked at it and done what was needed',
        tags: ['conflicts'],
        params: z.strictObject({ id }),
        response: { 200: conflict, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const row = await stores.rows.lock('conflict', id);
        if (!row) throw new Refused({ code: 'not-found', resource: 'conflict', id });
        const settled =
          row['settled_at'] === null
            ? await stores.rows.update('conflict', id, {
                settled_at: house.clock.now().toISOString(),
                settled_by: request.actor.name,
              })
            : row;
        return { status: 200, body: viewConflict(settled ?? row) };
      }),
  );
}
