import { v7 as newId } from 'uuid';
import type { EventType } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { newSecret, secretText } from './signing.js';
import { newEvent } from './tell.js';

/** What forbids a url before anybody calls it; null: nothing that can be seen. */
export type UrlRule = (url: string) => string | null;

const HOUR_MS = 3_600_000;
/** So long the secret before the last rotation still signs, beside the new one. */
const OLD_SECRET_HOURS = 24;

export async function endpointOf(stores: Stores, id: string): Promise<Row> {
  const row = await stores.rows.lock('webhook_endpoint', id);
  if (!row || row['archived_on'] !== null)
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

/** A new endpoint with a secret of its own, which is shown this once. */
export async function createEndpoint(
  stores: Stores,
  wanted: { id: string; url: string; note: string | null; eventTypes: readonly EventType[] },
): Promise<{ row: Row; secret: string }> {
  const secret = newSecret();
  const row = await stores.rows.insert('webhook_endpoint', {
    id: wanted.id,
    url: wanted.url,
    note: wanted.note,
    event_types: [...wanted.eventTypes],
    secret,
  });
  return { row, secret: secretText(secret) };
}

/** A new secret; the one before signs beside it for a day, so that nothing is refused meanwhile. */
export async function rotateSecret(stores: Stores, id: string): Promise<{ row: Row; secret: string }> {
  const endpoint = await endpointOf(stores, id);
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
  const endpoint = await endpointOf(stores, id);
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
export async function replayDelivery(stores: Stores, id: string): Promise<Row> {
  const delivery = await stores.rows.lock('webhook_delivery', id);
  if (!delivery) throw new Refused({ code: 'not-found', resource: 'webhook_delivery', id });
  const endpoint = await stores.rows.get('webhook_endpoint', String(delivery['endpoint_id']));
  if (endpoint?.['disabled_at'] !== null || endpoint['archived_on'] !== null)
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
