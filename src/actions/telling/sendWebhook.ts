import { DISABLED_AFTER_DAYS, nextTrySeconds, retryAfterSeconds } from '../../domain/telling/retries.js';
import type { House, Stores } from '../house.js';
import { type Outgoing, type OutgoingAnswer, OutgoingFault } from '../outgoing.js';
import type { Row } from '../ports.js';
import { POST } from './postStore.js';
import { signedHeaders, webhookMessage } from './signing.js';
import { tell } from './tell.js';

const TIMEOUT_MS = 20_000;
/** Longer than a try can take: whoever holds it this long was killed. */
const LEASE_SECONDS = 60;
const ANSWER_BYTES = 16 * 1024;
const GONE = 410;

/** What came of one try. */
interface Outcome {
  status: number | null;
  /** Null: it was taken. */
  error: string | null;
  /** What the owner and the log are told beyond that. */
  reason: string | null;
  askedSeconds: number | null;
}

/**
 * Tries one delivery that is due. A kill between sending and writing down sends it again, with the same id: its
 * receiver hears of each event at least once.
 *
 * @param chance Uniform in [0, 1).
 * @returns Why it was not called, where whoever keeps the endpoint is not told as much: for the log.
 */
export async function sendWebhook(
  house: House,
  outgoing: Outgoing,
  deliveryId: string,
  chance: number = Math.random(),
): Promise<string | null> {
  const delivery = await house.stores.post.claimDelivery(deliveryId, LEASE_SECONDS);
  if (!delivery) return null;
  const outcome: Outcome =
    delivery['disabled_at'] === null && delivery['archived_on'] === null
      ? await attempt(outgoing, delivery)
      : {
          status: null,
          error: 'the endpoint is switched off, or who keeps it has no good key',
          reason: null,
          askedSeconds: null,
        };
  await house.transact(POST, (stores) => record(stores, delivery, outcome, chance));
  return outcome.reason;
}

async function attempt(outgoing: Outgoing, delivery: Row): Promise<Outcome> {
  const message = webhookMessage(delivery);
  const secrets = [
    delivery['secret'] as Buffer,
    ...(delivery['old_secret_signs'] === true ? [delivery['old_secret'] as Buffer] : []),
  ];
  try {
    const answer = await outgoing.call({
      method: 'POST',
      url: String(delivery['url']),
      headers: signedHeaders(message, secrets, new Date()),
      body: message.body,
      timeoutMs: TIMEOUT_MS,
      atMostBytes: ANSWER_BYTES,
      cut: true,
    });
    return outcomeOf(answer);
  } catch (error) {
    if (!(error instanceof OutgoingFault)) throw error;
    const reason = error.told === error.message ? null : error.message;
    return { status: null, error: error.told, reason, askedSeconds: null };
  }
}

function outcomeOf({ status, headers }: OutgoingAnswer): Outcome {
  if (status >= 200 && status < 300) return { status, error: null, reason: null, askedSeconds: null };
  const error =
    status >= 300 && status < 400
      ? `it answered ${status}: redirects are not followed`
      : `it answered ${status}`;
  return { status, error, reason: null, askedSeconds: retryAfterSeconds(headers['retry-after'], Date.now()) };
}

async function record(stores: Stores, delivery: Row, outcome: Outcome, chance: number): Promise<void> {
  const id = String(delivery['id']);
  const endpointId = String(delivery['endpoint_id']);
  const now = new Date().toISOString();
  if (outcome.error === null) {
    await stores.rows.update('webhook_delivery', id, {
      state: 'delivered',
      delivered_at: now,
      last_status: outcome.status,
      last_error: null,
      last_reason: null,
      next_try_at: null,
      lease_until: null,
    });
    if (delivery['failing_since'] !== null)
      await stores.rows.update('webhook_endpoint', endpointId, { failing_since: null });
    return;
  }
  const { status, error, reason } = outcome;
  const isOff = delivery['disabled_at'] !== null || delivery['archived_on'] !== null;
  const wait =
    isOff || status === GONE ? null : nextTrySeconds(Number(delivery['tries']), chance, outcome.askedSeconds);
  if (wait === null)
    await stores.rows.update('webhook_delivery', id, {
      state: 'failed',
      last_status: status,
      last_error: error,
      last_reason: reason,
      next_try_at: null,
      lease_until: null,
    });
  else {
    await stores.post.postponeDelivery(id, wait, { status, error, reason });
    await stores.post.wake('webhook', [id], wait);
  }
  if (isOff) return;
  if (status === GONE) await disable(stores, endpointId, 'it answered 410: it is gone for good');
  else if (Number(delivery['failing_days'] ?? 0) >= DISABLED_AFTER_DAYS)
    await disable(
      stores,
      endpointId,
      `it failed for ${DISABLED_AFTER_DAYS} days, the last time because ${error}`,
    );
  else if (delivery['failing_since'] === null)
    await stores.rows.update('webhook_endpoint', endpointId, { failing_since: now });
}

/** Switches an endpoint off; what waits for it ends, to be replayed by hand. */
async function disable(stores: Stores, endpointId: string, because: string): Promise<void> {
  const endpoint = await stores.rows.lock('webhook_endpoint', endpointId);
  if (!endpoint || endpoint['disabled_at'] !== null) return;
  const disabledAt = new Date().toISOString();
  await stores.rows.update('webhook_endpoint', endpointId, {
    disabled_at: disabledAt,
    disabled_because: because,
  });
  await stores.post.failWaiting(endpointId, 'the endpoint was switched off');
  await tell(stores, {
    type: 'webhook_disabled',
    subjectId: endpointId,
    once: `${endpointId}:${disabledAt}`,
    facts: { host: new URL(String(endpoint['url'])).host, because },
  });
}
