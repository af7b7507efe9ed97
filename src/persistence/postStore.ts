import type { PostStore } from '../actions/telling/postStore.js';
import type { EventType, Role } from '../domain/words.js';
import { EARLIER_RECORD } from '../domain/work/clientDoubles.js';
import type { Queryable } from './rowStore.js';

const EVENT = `e.kind AS event_kind, e.text AS event_text, e.facts AS event_facts, e.created_at AS event_at, e.subject_id, e.site_id, e.work_order_id, e.route_id, e.crew_id, e.line_id`;

/** Whoever has this mail address said that nothing is to come to it, at whichever of the contacts that have it. */
const REFUSED_BY = (contact: string): string =>
  `EXISTS (SELECT FROM contact n WHERE lower(n.email) = lower(${contact}.email) AND (n.opt_out OR n.no_mail))`;

/** A person with a mail address and an owner's key that is good. */
const OWNER = (member: string): string =>
  `${member}.email IS NOT NULL AND ${member}.archived_on IS NULL AND EXISTS (
     SELECT FROM access_key k WHERE k.member_id = ${member}.id AND 'owner' = ANY (k.roles) AND k.revoked_at IS NULL
        AND (k.expires_at IS NULL OR k.expires_at > now()))`;

/** Whoever keeps the endpoint has a key that is good, of one of these roles; of the owner's endpoints nobody asks. */
const KEPT_BY = (endpoint: string, roles: readonly Role[]): string =>
  `(${endpoint}.holder_id IS NULL OR EXISTS (
     SELECT FROM access_key k LEFT JOIN member m ON m.id = k.member_id
      WHERE coalesce(k.member_id, k.id) = ${endpoint}.holder_id AND k.roles && ARRAY[${roles.map((role) => `'${role}'`).join(', ')}]
        AND k.revoked_at IS NULL AND (k.expires_at IS NULL OR k.expires_at > now()) AND m.archived_on IS NULL))`;

/** What happens to an endpoint is heard by its keeper and by owners. */
const OF_ENDPOINTS: readonly EventType[] = [
  'webhook_made',
  'webhook_disabled',
  'webhook_moved',
  'webhook_test',
];

const WANTED_DELIVERIES = `
  SELECT e.id AS event_id, w.id AS endpoint_id FROM event e JOIN webhook_endpoint w ON e.kind = ANY (w.event_types)
    LEFT JOIN webhook_endpoint s ON s.id = e.subject_id AND e.kind = ANY ($2)
   WHERE e.id = ANY ($1) AND w.disabled_at IS NULL AND w.archived_on IS NULL AND w.created_at <= e.created_at
     AND ${KEPT_BY('w', ['integration', 'owner'])}
     AND (s.id IS NULL OR s.holder_id = w.holder_id OR ${KEPT_BY('w', ['owner'])})
   ORDER BY e.id, w.id`;

const WANTED_MAILS = `
  SELECT DISTINCT ON (e.id, lower(c.email)) e.id AS event_id, c.id AS contact_id, k.kind
    FROM event e JOIN jsonb_to_recordset($2::jsonb) AS k(type text, kind text) ON k.type = e.kind
    JOIN contact c ON c.email IS NOT NULL AND c.role <> '${EARLIER_RECORD}' AND NOT ${REFUSED_BY('c')} AND c.archived_on IS NULL
   WHERE e.id = ANY ($1) AND (c.site_id = e.site_id
          OR (c.site_id IS NULL
              AND NOT EXISTS (SELECT FROM contact o WHERE o.site_id = e.site_id AND o.email IS NOT NULL AND NOT ${REFUSED_BY('o')} AND o.archived_on IS NULL)
              AND EXISTS (SELECT FROM site_client s WHERE s.site_id = e.site_id AND s.client_id = c.client_id
                             AND (s.from_day IS NULL OR s.from_day <= $3) AND (s.to_day IS NULL OR s.to_day > $3))))
   ORDER BY e.id, lower(c.email), c.id`;

export function makePostStore(q: Queryable): PostStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  const first = async (text: string, values: unknown[]) => (await rows(text, values))[0] ?? null;
  const ids = async (text: string, values: unknown[]) =>
    (await rows(text, values)).map((row) => String(row['id']));
  return {
    async isHeld() {
      return (await rows('SELECT FROM house WHERE post_held_since IS NOT NULL')).length > 0;
    },
    takeUnposted: (limit) =>
      rows(
        'SELECT id, kind, facts FROM event WHERE posted_at IS NULL ORDER BY created_at, id LIMIT $1 FOR UPDATE SKIP LOCKED',
        [limit],
      ),
    async markPosted(eventIds) {
      await q.query('UPDATE event SET posted_at = now() WHERE id = ANY ($1)', [eventIds]);
    },
    wantedDeliveries: (eventIds) => rows(WANTED_DELIVERIES, [eventIds, OF_ENDPOINTS]),
    wantedMails: (eventIds, kinds, today) => rows(WANTED_MAILS, [eventIds, JSON.stringify(kinds), today]),
    ownersToMail: (eventIds) =>
      ids(`SELECT e.id || ':' || m.id AS id FROM event e, member m WHERE e.id = ANY ($1) AND ${OWNER('m')}`, [
        eventIds,
      ]),
    ownersNews: (eventId, memberId) =>
      first(
        `SELECT e.kind, e.text, e.subject_id, e.created_at AS at, m.name, m.email FROM event e, member m
          WHERE e.id = $1 AND m.id = $2 AND ${OWNER('m')}`,
        [eventId, memberId],
      ),
    async wake(task, wakened, delaySeconds, tries = 0) {
      await q.query(
        `SELECT graphile_worker.add_job($1::text, payload := json_build_object('id', x, 'tries', $4::int), job_key := $1::text || ':' || x,
                run_at := now() + make_interval(secs => $3), max_attempts := 3) FROM unnest($2::text[]) x`,
        [task, wakened, delaySeconds, tries],
      );
    },

    claimDelivery: (id, leaseSeconds) =>
      first(
        `WITH d AS (
           UPDATE webhook_delivery SET tries = tries + 1, last_tried_at = now(), lease_until = now() + make_interval(secs => $2)
            WHERE id = $1 AND state = 'waiting' AND next_try_at <= now() AND coalesce(lease_until <= now(), true) RETURNING *)
         SELECT d.*, ${EVENT}, w.url, w.secret, w.old_secret, w.old_secret_until > now() AS old_secret_signs, w.archived_on,
                CASE WHEN ${KEPT_BY('w', ['integration', 'owner'])} THEN w.disabled_at ELSE now() END AS disabled_at,
                w.failing_since, extract(epoch FROM now() - w.failing_since) / 86400 AS failing_days
           FROM d JOIN event e ON e.id = d.event_id JOIN webhook_endpoint w ON w.id = d.endpoint_id`,
        [id, leaseSeconds],
      ),
    async postponeDelivery(id, seconds, { status, error, reason }) {
      await q.query(
        `UPDATE webhook_delivery SET next_try_at = now() + make_interval(secs => $2), lease_until = NULL, last_status = $3, last_error = $4, last_reason = $5 WHERE id = $1`,
        [id, seconds, status, error, reason],
      );
    },
    async failWaiting(endpointId, error) {
      const { rowCount } = await q.query(
        `UPDATE webhook_delivery SET state = 'failed', next_try_at = NULL, lease_until = NULL, last_error = coalesce(last_error || '; ', '') || $2
          WHERE endpoint_id = $1 AND state = 'waiting'`,
        [endpointId, error],
      );
      return rowCount ?? 0;
    },

    lockMail: (id) =>
      first(
        `SELECT m.*, ${EVENT}, extract(epoch FROM business_now() - e.created_at) / 3600 AS hours_old,
                c.name AS contact_name, c.email, c.language, c.opt_out OR ${REFUSED_BY('c')} AS opt_out, c.archived_on, o.state AS order_state, o.number, s.address, s.town
           FROM mail m JOIN event e ON e.id = m.event_id JOIN contact c ON c.id = m.contact_id
           JOIN work_order o ON o.id = e.work_order_id JOIN site s ON s.id = o.site_id
          WHERE m.id = $1 AND m.state = 'waiting' AND m.next_try_at <= now() FOR UPDATE OF m SKIP LOCKED`,
        [id],
      ),
    async postponeMail(id, seconds, error) {
      await q.query(
        `UPDATE mail SET state = 'waiting', next_try_at = now() + make_interval(secs => $2), lease_until = NULL, last_error = coalesce($3, last_error) WHERE id = $1`,
        [id, seconds, error],
      );
    },
    async beginMail(id, leaseSeconds) {
      await q.query(
        `UPDATE mail SET state = 'sending', tries = tries + 1, last_tried_at = now(), lease_until = now() + make_interval(secs => $2) WHERE id = $1`,
        [id, leaseSeconds],
      );
    },
    markLostMails: () =>
      rows(
        `UPDATE mail m SET state = 'uncertain', lease_until = NULL, next_try_at = NULL, last_error = 'the service went away while it was being sent'
           FROM event e WHERE e.id = m.event_id AND m.state = 'sending' AND m.lease_until <= now() RETURNING m.*, ${EVENT}`,
      ),
    async keepUnsubscribeLink(hash, contactId) {
      await q.query('INSERT INTO unsubscribe_link (hash, contact_id) VALUES ($1, $2)', [hash, contactId]);
    },
    async contactOfLink(hash) {
      const row = await first('SELECT contact_id FROM unsubscribe_link WHERE hash = $1', [hash]);
      return row ? String(row['contact_id']) : null;
    },
    async visitDay(workOrderId) {
      const row = await first(
        `SELECT coalesce((SELECT p.day FROM promise p WHERE p.work_order_id = $1 AND p.ended_at IS NULL ORDER BY p.told_at DESC, p.created_at DESC LIMIT 1),
                         (SELECT r.day FROM stop s JOIN route r ON r.id = s.route_id AND r.state = 'live' WHERE s.work_order_id = $1 AND s.live LIMIT 1)) AS day`,
        [workOrderId],
      );
      return row?.['day'] ? String(row['day']) : null;
    },

    async overdue(seconds) {
      const since = `now() - make_interval(secs => $1)`;
      const events = await first(
        `SELECT count(*)::int AS n FROM event WHERE posted_at IS NULL AND created_at < business_now() - make_interval(secs => $1)`,
        [seconds],
      );
      return {
        events: Number(events?.['n'] ?? 0),
        deliveries: await ids(
          `SELECT id FROM webhook_delivery WHERE state = 'waiting' AND next_try_at < ${since} AND coalesce(lease_until < now(), true) ORDER BY next_try_at LIMIT 500`,
          [seconds],
        ),
        mails: await ids(
          `SELECT id FROM mail WHERE state = 'waiting' AND next_try_at < ${since} ORDER BY next_try_at LIMIT 500`,
          [seconds],
        ),
      };
    },
  };
}
