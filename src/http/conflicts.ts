import type { FastifyRequest } from 'fastify';
import { v7 as newId } from 'uuid';
import type { House } from '../actions/house.js';
import { Refused } from '../actions/problems.js';

/** When a write was refused because an id was taken by other content, keeps that content for a person. */
export async function keepConflict(house: House, request: FastifyRequest, error: unknown): Promise<void> {
  if (!(error instanceof Refused) || error.problem.code !== 'id-taken') return;
  const { resource, id } = error.problem;
  await house.transact(request.actor, (stores) =>
    stores.rows.insert('conflict', {
      id: newId(),
      resource,
      resource_id: id,
      author: request.actor.name,
      content: contentOf(request.body, id),
    }),
  );
}

/** Of a batch, the item that came with the id; else the whole body. */
function contentOf(body: unknown, id: string): object {
  const { items } = (body ?? {}) as { items?: unknown };
  const item = Array.isArray(items) ? items.find((each: { id?: unknown }) => each.id === id) : undefined;
  return (item ?? body ?? {}) as object;
}
