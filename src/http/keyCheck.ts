import { createHash } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { House } from '../actions/house.js';
import type { Actor } from '../actions/ports.js';
import type { Role } from '../domain/words.js';
import { DOOR_ANSWERS, sendProblem } from './problemAnswers.js';

/** Who may call an operation: `public`, or one of the roles. Nothing said: nobody. */
export type Allowed = 'public' | readonly Role[];

declare module 'fastify' {
  interface FastifyContextConfig {
    roles?: Allowed;
  }
  interface FastifyRequest {
    /** Whose key came with the request; null: none, or none that is known. */
    caller(): Promise<Actor | null>;
  }
}

const CACHE_MS = 5_000;
const CACHE_KEYS = 10_000;

/** Bearer keys, looked up by their SHA-256 and believed for at most five seconds. */
export function knowCallers(app: FastifyInstance, house: House): void {
  const cache = new Map<string, { actor: Actor | null; until: number }>();

  async function actorOf(key: string): Promise<Actor | null> {
    const hash = createHash('sha256').update(key).digest();
    const name = hash.toString('base64');
    const now = house.clock.now().getTime();
    const held = cache.get(name);
    if (held && held.until > now) return held.actor;
    const actor = await house.stores.keys.actorByHash(hash);
    if (cache.size >= CACHE_KEYS) cache.clear();
    cache.set(name, { actor, until: now + CACHE_MS });
    if (actor) await house.stores.keys.used(actor.keyId);
    return actor;
  }

  app.decorateRequest('caller', async function (this: FastifyRequest) {
    const key = /^Bearer +([\x21-\x7e]+)$/i.exec(this.headers.authorization ?? '')?.[1];
    return key === undefined ? null : actorOf(key);
  });
}

/** Lets in who has a key with a role that the operation names; what names none lets in nobody. */
export function checkKeys(app: FastifyInstance): void {
  app.addHook('onRequest', async (request, reply) => {
    const allowed = request.routeOptions.config.roles;
    if (allowed === 'public' || request.is404) return;
    const actor = await request.caller();
    if (!actor) {
      reply.header('www-authenticate', 'Bearer realm="openbore"');
      return sendProblem(request, reply, 'no-key', DOOR_ANSWERS['no-key'], {
        detail: request.headers.authorization
          ? 'This key is not known: a letter is missing or wrong, or it has ended. Send Authorization: Bearer <key>.'
          : 'Send Authorization: Bearer <key>. `npm run key -- --name NAME --role ROLE` makes the first one.',
      });
    }
    request.actor = actor;
    if (!allowed?.some((role) => actor.roles.includes(role))) {
      return sendProblem(request, reply, 'no-role', DOOR_ANSWERS['no-role'], {
        detail: `This takes the role ${allowed?.join(' or ') ?? '(none)'}; your key has ${actor.roles.join(', ') || 'none'}.`,
      });
    }
  });
}
