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
const MOST_HELD = 10_000;
const MINUTE_MS = 60_000;
/** As `createKey` makes them: anything else is no key, and nobody is asked for it. */
const FORM = /^ob_[\w-]{43}$/;

/**
 * Bearer keys, looked up by their SHA-256 and believed for at most five seconds. Guesses are held apart: they throw out no
 * key that is good, and beyond so many a minute from an address only keys that were good before are looked up for it.
 *
 * @param mostGuesses A minute and address; 0: no limit.
 */
export function knowCallers(app: FastifyInstance, house: House, mostGuesses: number): void {
  const good = new Map<string, { actor: Actor; until: number }>();
  const wrong = new Map<string, number>();
  const guesses = new Map<string, { count: number; until: number }>();
  const hold = <T>(held: Map<string, T>, name: string, value: T) => {
    if (held.size >= MOST_HELD && !held.has(name)) held.delete(held.keys().next().value ?? '');
    held.set(name, value);
  };
  const hasGuessedEnough = (address: string, now: number): boolean => {
    const { count, until } = guesses.get(address) ?? { count: 0, until: 0 };
    return mostGuesses > 0 && until > now && count >= mostGuesses;
  };
  const countGuess = (address: string, now: number) => {
    const before = guesses.get(address);
    if (before !== undefined && before.until > now) before.count++;
    else hold(guesses, address, { count: 1, until: now + MINUTE_MS });
  };

  async function actorOf(key: string, address: string): Promise<Actor | null> {
    if (!FORM.test(key)) return null;
    const hash = createHash('sha256').update(key).digest();
    const name = hash.toString('base64');
    const now = house.clock.now().getTime();
    const held = good.get(name);
    if (held && held.until > now) return held.actor;
    if (!held && ((wrong.get(name) ?? 0) > now || hasGuessedEnough(address, now))) return null;
    const actor = await house.stores.keys.actorByHash(hash);
    if (actor === null) {
      good.delete(name);
      hold(wrong, name, now + CACHE_MS);
      countGuess(address, now);
      return null;
    }
    hold(good, name, { actor, until: now + CACHE_MS });
    await house.stores.keys.used(actor.keyId);
    return actor;
  }

  app.decorateRequest('caller', async function (this: FastifyRequest) {
    const key = /^Bearer +([\x21-\x7e]+)$/i.exec(this.headers.authorization ?? '')?.[1];
    return key === undefined ? null : actorOf(key, this.ip);
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
