import type { FastifyReply, FastifyRequest } from 'fastify';
import type { House, Stores } from '../actions/house.js';
import type { Actor } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { fingerprint } from '../actions/takeId.js';
import { keepConflict } from './conflicts.js';

export interface Answer {
  status: number;
  body: unknown;
  headers?: Record<string, string>;
  /** What a repeated request is answered with, where that is less than the first answer told. */
  bodyAgain?: unknown;
  /** What follows once the work is on record, before the answer is sent; not done for a repeated request. */
  afterwards?: () => Promise<void>;
}

declare module 'fastify' {
  interface FastifyRequest {
    actor: Actor;
  }
}

const LONGEST_KEY = 255;

/** `"abc"` (a structured field string) and plain `abc` are the same key. */
function idempotencyKeyOf(request: FastifyRequest): string | null {
  const header = request.headers['idempotency-key'];
  if (typeof header !== 'string' || header.trim() === '') return null;
  const text = header.trim();
  const key = text.startsWith('"') && text.endsWith('"') ? text.slice(1, -1) : text;
  if (key.length > 0 && key.length <= LONGEST_KEY) return key;
  throw new Refused({
    code: 'bad-header',
    faults: [
      {
        pointer: '#/headers:idempotency-key',
        detail: `has ${key.length} characters`,
        remedy: `1 to ${LONGEST_KEY} characters, a fresh one for each request`,
      },
    ],
  });
}

/**
 * One write: the work, its idempotency key and its answer in one transaction. The same key and content again
 * gets the first answer; a crash leaves neither work nor key.
 */
export async function write(
  house: House,
  request: FastifyRequest,
  reply: FastifyReply,
  work: (stores: Stores) => Promise<Answer>,
): Promise<FastifyReply> {
  const key = request.method === 'POST' ? idempotencyKeyOf(request) : null;
  const answer = await transactKeeping(house, request, async (stores) => {
    if (key === null) return work(stores);
    const print = fingerprint(request.method, request.url, request.body ?? null);
    const claim = await stores.claims.take(request.actor.keyId, key, print);
    if (claim.kind === 'other-content') throw new Refused({ code: 'idempotency-key-reused', key });
    if (claim.kind === 'answered') {
      return {
        status: claim.status,
        body: JSON.parse(claim.body) as unknown,
        headers: { ...claim.headers, 'idempotency-replayed': 'true' },
      };
    }
    const fresh = await work(stores);
    await stores.claims.answer(
      request.actor.keyId,
      key,
      fresh.status,
      fresh.headers ?? {},
      JSON.stringify(fresh.bodyAgain ?? fresh.body ?? null),
    );
    return fresh;
  });
  await answer.afterwards?.();
  reply.code(answer.status);
  if (answer.headers) reply.headers(answer.headers);
  return answer.status === 204 ? reply.send() : reply.send(answer.body);
}

async function transactKeeping(
  house: House,
  request: FastifyRequest,
  work: (stores: Stores) => Promise<Answer>,
): Promise<Answer> {
  try {
    return await house.transact(request.actor, work);
  } catch (error) {
    await keepConflict(house, request, error);
    throw error;
  }
}

/** The version a change was made from, out of `If-Match: "3"`. Weak tags never match. */
export function versionAsked(request: FastifyRequest, resource: string, id: string, version: number): void {
  const header = request.headers['if-match'];
  if (typeof header !== 'string' || header.trim() === '') {
    throw new Refused({ code: 'version-required', resource, id, version });
  }
  const tags = header.split(',').map((tag) => tag.trim());
  if (!tags.includes(`"${version}"`) && !tags.includes('*')) {
    throw new Refused({ code: 'version-mismatch', resource, id, version, asked: header });
  }
}
