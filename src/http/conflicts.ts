import type { FastifyRequest } from 'fastify';
import { v7 as newId } from 'uuid';
import type { House } from '../actions/house.js';
import { Refused } from '../actions/problems.js';

/** Runs a write; when its id was taken by other content, that content is kept for a person before refusing. */
export async function keepConflict<T>(
  house: House,
  request: FastifyRequest,
  resource: string,
  id: string,
  work: () => Promise<T>,
): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Refused && error.problem.code === 'id-taken') {
      await house.transact(request.actor, (stores) =>
        stores.rows.insert('conflict', {
          id: newId(),
          resource,
          resource_id: id,
          author: request.actor.name,
          content: request.body as object,
        }),
      );
    }
    throw error;
  }
}
