import { v7 as newId } from 'uuid';
import type { EventType } from '../../domain/words.js';
import type { Stores } from '../house.js';
import { authorId } from '../mayWorkOn.js';
import type { Actor, Condition, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { newSecret, secretText } from './signing.js';
import { newEvent, tell } from './tell.js';

/** What forbids a url before anybody calls it; null: nothing that can be seen. */
export type UrlRule = (url: string) => string | null;

const HOUR_MS = 3_600_000;
/** So long the secret before the last rotation still signs, beside the new one. */
const OLD_SECRET_HOURS = 24;

const keepsAll = (actor: Actor): boolean => actor.roles.includes('owner');

/** An endpoint is kept by who made it, and by the owner; what was made before that was so, by the owner alone. */
export const keepsEndpoint = (actor: Actor, endpoint: Row): boolean =>
  keepsAll(actor) || endpoint['holder_id'] === authorId(actor);

/** What narrows a list of endpoints to those that somebody keeps. */
export const keptBy = (actor: Actor): Condition[] =>
  keepsAll(actor) ? [] : [{ column: 'holder_id', is: '=', value: authorId(actor) }];

/** An endpoint that the actor keeps, locked. */
export async function endpointOf(stores: Stores, actor: Actor, id: string): Promise<Row> {
  const row = await stores.rows.lock('webhook_endpoint', id);
  if (!row || row['archived_on'] !== null || !keepsEndpoint(actor, row))
    throw new Refused({ code: 'not-found', resource: 'webhook_endpoint', id });
  return row;
}

/** @throws {Refused} `rule-broken` for a url that is never called. */
export function refuseUrl(rule: UrlRule, url: string): void {
  const refused = rule(url);
  if (refused !== null)
    throw ruleBroken(
      'webhook-url',
      '#/url',
      `${refused}`,
      'an https:// address that others can reach from the internet',
    );
}

/** A new endpoint with a secret of its own, which is shown this once. The owner is told. */
export async function createEndpoint(
  stores: Stores,
  actor: Actor,
  wanted: { id: string; url: string; note: string | null; eventTypes: readonly EventType[] },
): Promise<{ row: Row; secret: string }> {
  const secret = newSecret();
  const row = await stores.rows.insert('webhook_endpoint', {
    id: wanted.id,
    holder_id: authorId(actor),
    url: wanted.url,
    note: wanted.note,
    event_types: [...wanted.eventTypes],
    secret,
  });
  await tell(stores, {
    type: 'webhook_made',
    subjectId: wanted.id,
    once: wanted.id,
    facts: { host: hostOf(wanted.url), by: actor.name, eventTypes: wanted.eventTypes },
  });
  return { row, secret: secretText(secret) };
}

export interface EndpointPatch {
  url?: string | undefined;
  eventTypes?: readonly EventType[] | undefined;
  note?: string | null | undefined;
  enabled?: boolean | undefined;
  /** The key whose holder is to keep it; null: the owner alone. */
  keyId?: string | null | undefined;
}

/**
 * Changes an endpoint. Sent elsewhere it gets a new secret, and the one before signs no more: whoever answers at the new
 * address learns nothing that would be believed at the old one. The owner is told.
 *
 * @returns The secret where it is new, shown this once.
 */
export async function changeEndpoint(
  stores: Stores,
  actor: Actor,
  row: Row,
  patch: EndpointPatch,
): Promise<{ row: Row; secret: string | null }> {
  const id = String(row['id']);
  const { url, eventTypes, note, enabled } = patch;
  // What was kept as it was written is called by the same address as it is kept now.
  const movesTo = url === undefined || url === new URL(String(row['url'])).href ? null : url;
  const secret = movesTo === null ? null : newSecret();
  const changed = await stores.rows.update('webhook_endpoint', id, {
    ...(secret === null ? {} : { url: movesTo, secret, old_secret: null, old_secret_until: null }),
    ...(patch.keyId === undefined ? {} : { holder_id: await holderOf(stores, actor, id, patch.keyId) }),
    ...(eventTypes === undefined ? {} : { event_types: [...eventTypes] }),
    ...(note === undefined ? {} : { note }),
    ...(enabled === true ? { disabled_at: null, disabled_because: null, failing_since: null } : {}),
    ...(enabled === false && row['disabled_at'] === null
      ? { disabled_at: new Date().toISOString(), disabled_because: `switched off by ${actor.name}` }
      : {}),
  });
  if (enabled === false) await stores.post.failWaiting(id, 'the endpoint was switched off');
  if (movesTo !== null)
    await tell(stores, {
      type: 'webhook_moved',
      subjectId: id,
      once: newId(),
      facts: { fromHost: hostOf(row['url']), toHost: hostOf(movesTo), by: actor.name },
    });
  return { row: changed ?? row, secret: secret === null ? null : secretText(secret) };
}

const hostOf = (url: unknown): string => new URL(String(url)).host;

/** @throws {Refused} `not-yours` to anybody but the owner; `rule-broken`: no key that may keep endpoints. */
async function holderOf(
  stores: Stores,
  actor: Actor,
  id: string,
  keyId: string | null,
): Promise<string | null> {
  if (!keepsAll(actor))
    throw new Refused({
      code: 'not-yours',
      resource: 'webhook_endpoint',
      id,
      detail: 'Who keeps an endpoint is for the owner to say.',
    });
  if (keyId === null) return null;
  const holder = (await stores.keys.standing([keyId])).get(keyId);
  if (holder?.roles.some((role) => role === 'owner' || role === 'integration')) return authorId(holder);
  throw ruleBroken(
    'webhook-holder',
    '#/keyId',
    'is no key that may keep webhooks',
    'the id of a key of the role integration or owner that is neither revoked nor over',
  );
}

/** A new secret; the one before signs beside it for a day, so that nothing is refused meanwhile. */
export async function rotateSecret(
  stores: Stores,
  actor: Actor,
  id: string,
): Promise<{ row: Row; secret: string }> {
  const endpoint = await endpointOf(stores, actor, id);
  const secret = newSecret();
  const until = new Date(Date.now() + OLD_SECRET_HOURS * HOUR_MS).toISOString();
  const row = await stores.rows.update('webhook_endpoint', id, {
    secret,
    old_secret: endpoint['secret'],
    old_secret_until: until,
  });
  return { row: row ?? endpoint, secret: secretText(secret) };
}

/** Calls an endpoint with a test event, whatever it subscribed to. */
export async function sendTestEvent(stores: Stores, actor: Actor, id: string): Promise<Row> {
  const endpoint = await endpointOf(stores, actor, id);
  if (endpoint['disabled_at'] !== null)
    throw new Refused({
      code: 'wrong-state',
      resource: 'webhook_endpoint',
      id,
      state: 'disabled',
      allowed: ['enabled'],
      detail: 'Nothing is sent to an endpoint that is switched off; enable it first.',
    });
  const event = newEvent({
    type: 'webhook_test',
    subjectId: id,
    once: newId(),
    facts: { askedBy: actor.name },
  });
  await stores.events.tell([event]);
  const delivery = await stores.rows.insert('webhook_delivery', {
    id: newId(),
    event_id: event.id,
    endpoint_id: id,
  });
  await stores.post.wake('webhook', [String(delivery['id'])], 0);
  return delivery;
}

/** Sends one event to one endpoint again, with the id it had; its tries begin anew. */
export async function replayDelivery(stores: Stores, actor: Actor, id: string): Promise<Row> {
  const delivery = await stores.rows.lock('webhook_delivery', id);
  const endpoint = delivery && (await stores.rows.get('webhook_endpoint', String(delivery['endpoint_id'])));
  if (!delivery || !endpoint || !keepsEndpoint(actor, endpoint))
    throw new Refused({ code: 'not-found', resource: 'webhook_delivery', id });
  if (endpoint['disabled_at'] !== null || endpoint['archived_on'] !== null)
    throw new Refused({
      code: 'wrong-state',
      resource: 'webhook_delivery',
      id,
      state: 'endpoint switched off',
      allowed: ['its endpoint is enabled'],
      detail: 'Nothing is sent to an endpoint that is switched off.',
    });
  const again = await stores.rows.update('webhook_delivery', id, {
    state: 'waiting',
    tries: 0,
    next_try_at: new Date().toISOString(),
    delivered_at: null,
  });
  await stores.post.wake('webhook', [id], 0);
  return again ?? delivery;
}
