import { z } from 'zod';
import type { Actor, Row } from '../actions/ports.js';
import { DELIVERY_STATES, EVENT_TYPES } from '../domain/words.js';
import { id, instant, text } from './shapes.js';

/** What may be subscribed to; a test event goes to the endpoint it was asked for alone. */
const SUBSCRIBABLE = EVENT_TYPES.filter((type) => type !== 'webhook_test');

const url = z
  .url({ protocol: /^https?$/, normalize: true, error: 'is not an https:// address' })
  .max(2000)
  .meta({ example: 'https://hooks.example.org/openbore' });
const eventTypes = z.array(z.enum(SUBSCRIBABLE)).min(1).max(SUBSCRIBABLE.length);

export const newEndpoint = z
  .strictObject({ id: id.optional(), url, eventTypes, note: text(500).nullable().optional() })
  .meta({
    id: 'NewWebhookEndpoint',
    example: { url: 'https://hooks.example.org/openbore', eventTypes: ['work_finished', 'line_plugged'] },
  });

export const endpointPatch = z
  .strictObject({
    url: url.optional(),
    eventTypes: eventTypes.optional(),
    note: text(500).nullable().optional(),
    enabled: z.boolean().optional().describe('true switches an endpoint on that was switched off'),
    keyId: id
      .nullable()
      .optional()
      .describe('for the owner: the key whose holder keeps it from now on; null: the owner alone'),
  })
  .meta({ id: 'WebhookEndpointPatch', example: { enabled: true } });

const endpoint = {
  id: z.uuid(),
  holderId: z
    .uuid()
    .nullable()
    .describe('who keeps it beside the owner: the member whose key made it, else that key; null: nobody'),
  url: z.string(),
  note: z.string().nullable(),
  eventTypes: z.array(z.enum(EVENT_TYPES)),
  enabled: z.boolean(),
  disabledAt: instant.nullable(),
  disabledBecause: z.string().nullable(),
  failingSince: instant.nullable().describe('since the last success; null: the last try was taken'),
  oldSecretUntil: instant.nullable().describe('so long the secret before the last rotation signs as well'),
  version: z.number().int(),
  createdAt: instant,
  updatedAt: instant,
};
const about = 'Where events are sent to, signed after Standard Webhooks.';
export const endpointView = z.object(endpoint).meta({ id: 'WebhookEndpoint', description: about });
export const endpointWithSecret = z
  .object({
    ...endpoint,
    secret: z
      .string()
      .nullable()
      .describe('whsec_ and base64, shown once; null where it is not new, or a request is answered again'),
  })
  .meta({ id: 'WebhookEndpointWithSecret', description: about });

export const viewEndpoint = (row: Row) => ({
  id: row['id'],
  holderId: row['holder_id'],
  url: row['url'],
  note: row['note'],
  eventTypes: row['event_types'],
  enabled: row['disabled_at'] === null,
  disabledAt: row['disabled_at'],
  disabledBecause: row['disabled_because'],
  failingSince: row['failing_since'],
  oldSecretUntil: row['old_secret_until'],
  version: row['version'],
  createdAt: row['created_at'],
  updatedAt: row['updated_at'],
});

export const deliveryView = z
  .object({
    id: z.uuid(),
    eventId: z.uuid().describe('the webhook-id header, on every try'),
    endpointId: z.uuid(),
    state: z.enum(DELIVERY_STATES),
    tries: z.number().int(),
    nextTryAt: instant.nullable(),
    lastTriedAt: instant.nullable(),
    lastStatus: z.number().int().nullable().describe('of the answer; null: there was none'),
    lastError: z.string().nullable(),
    lastReason: z
      .string()
      .nullable()
      .describe('why, where lastError says less: to the owner alone, else null'),
    deliveredAt: instant.nullable(),
    createdAt: instant,
  })
  .meta({ id: 'WebhookDelivery', description: 'One event on its way to one endpoint.' });

export const viewDelivery = (row: Row, { roles }: Pick<Actor, 'roles'>) => ({
  id: row['id'],
  eventId: row['event_id'],
  endpointId: row['endpoint_id'],
  state: row['state'],
  tries: row['tries'],
  nextTryAt: row['next_try_at'],
  lastTriedAt: row['last_tried_at'],
  lastStatus: row['last_status'],
  lastError: row['last_error'],
  lastReason: roles.includes('owner') ? row['last_reason'] : null,
  deliveredAt: row['delivered_at'],
  createdAt: row['created_at'],
});
