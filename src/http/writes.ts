import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { House, Stores } from '../actions/house.js';
import type { Actor } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';

export interface Answer {
  status: number;
  body: unknown;
  headers?: Record<string, string>;
}

declare module 'fastify' {
  interface FastifyRequest {
    actor: Actor;
  }
}

/** Every id belongs to no caller in particular: whoever sends it, it means the same. */
const NOBODY = '00000000-0000-0000-0000-000000000000';

export function fingerprint(...parts: unknown[]): Buffer {
  return createHash('sha256').update(JSON.stringify(parts)).digest();
}

/** `"abc"` (a structured field string) and plain `abc` are the same key. */
function idempotencyKeyOf(request: FastifyRequest): string | null {
  const header = request.headers['idempotency-key'];
  if (typeof header !== 'string' || header.trim() === '') return null;
  const text = header.trim();
  return (text.startsWith('"') && text.endsWith('"') ? text.slice(1, -1) : text).slice(0, 255);
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
  const answer = await house.transact(request.actor, async (stores) => {
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
      JSON.stringify(fresh.body ?? null),
    );
    return fresh;
  });
  reply.code(answer.status);
  if (answer.headers) reply.headers(answer.headers);
  return answer.status === 204 ? reply.send() : reply.send(answer.body);
}

/**
 * Takes an id its sender chose. `true`: new, go on. `false`: the same id with the same content came before,
 * answer with what is there.
 *
 * @throws {Refused} `id-taken` when the id came with other content; the caller keeps that as a conflict.
 */
export async function takeId(
  stores: Stores,
  resource: string,
  id: string,
  content: unknown,
): Promise<boolean> {
  const claim = await stores.claims.take(NOBODY, `id:${id}`, fingerprint(resource, content));
  if (claim.kind === 'other-content') throw new Refused({ code: 'id-taken', resource, id });
  return claim.kind === 'taken';
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
