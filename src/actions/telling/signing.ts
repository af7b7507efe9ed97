import { createHmac, randomBytes } from 'node:crypto';
import type { Row } from '../ports.js';

/** A webhook as its receiver reads it. */
export interface WebhookMessage {
  id: string;
  body: string;
}

const SECRET_BYTES = 32;

export const newSecret = (): Buffer => randomBytes(SECRET_BYTES);
/** As people copy it. */
export const secretText = (secret: Buffer): string => `whsec_${secret.toString('base64')}`;

/** The same bytes on every try: id and body of an event never change. */
export function webhookMessage(event: Row): WebhookMessage {
  return {
    id: String(event['event_id']),
    body: JSON.stringify({
      type: event['event_kind'],
      timestamp: event['event_at'],
      data: {
        id: event['event_id'],
        text: event['event_text'],
        facts: event['event_facts'],
        subjectId: event['subject_id'],
        siteId: event['site_id'],
        workOrderId: event['work_order_id'],
        routeId: event['route_id'],
        crewId: event['crew_id'],
        lineId: event['line_id'],
      },
    }),
  };
}

/**
 * Headers of one try, signed by every secret in force.
 *
 * @param sentAt The real time: receivers take no message older than five minutes.
 * @see https://github.com/standard-webhooks/standard-webhooks/blob/main/spec/standard-webhooks.md
 */
export function signedHeaders(
  message: WebhookMessage,
  secrets: readonly Buffer[],
  sentAt: Date,
): Record<string, string> {
  const timestamp = String(Math.floor(sentAt.getTime() / 1000));
  const content = `${message.id}.${timestamp}.${message.body}`;
  return {
    'content-type': 'application/json',
    'webhook-id': message.id,
    'webhook-timestamp': timestamp,
    'webhook-signature': secrets
      .map((secret) => `v1,${createHmac('sha256', secret).update(content).digest('base64')}`)
      .join(' '),
  };
}
