import type { EventStore } from '../actions/telling/eventStore.js';
import type { Queryable } from './rowStore.js';

const PROMISE = `
  LEFT JOIN LATERAL (SELECT x.day, x.from_time, x.to_time FROM promise x WHERE x.work_order_id = o.id AND x.ended_at IS NULL
                      ORDER BY x.told_at DESC, x.created_at DESC LIMIT 1) p ON true`;

export function makeEventStore(q: Queryable): EventStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  return {
    async tell(events) {
      if (events.length === 0) return 0;
      const told = await rows(
        `INSERT INTO event (id, kind, text, subject_id, site_id, work_order_id, route_id, crew_id, line_id, once_key, facts)
         SELECT r.id, r.kind, r.text, r.subject_id, r.site_id, r.work_order_id, r.route_id, r.crew_id, r.line_id, r.once_key, r.facts
           FROM jsonb_populate_recordset(NULL::event, $1::jsonb) r
         ON CONFLICT (once_key) DO NOTHING RETURNING id`,
        [JSON.stringify(events)],
      );
      // A key of its own: a shared one would make every writer wait for the one before.
      if (told.length > 0)
        await q.query(
          `SELECT 1 FROM graphile_worker.add_job('post', payload := '{}', job_key := $1::text, max_attempts := 3)`,
          [`post:${String(told[0]?.['id'])}`],
        );
      return told.length;
    },

    async forgetOld(days) {
      const [row] = await rows(
        `WITH old AS (
           SELECT e.id FROM event e WHERE e.created_at < business_now() - make_interval(days => $1) AND e.posted_at IS NOT NULL
              AND NOT EXISTS (SELECT FROM webhook_delivery d WHERE d.event_id = e.id AND d.state = 'waiting')
              AND NOT EXISTS (SELECT FROM mail m WHERE m.event_id = e.id AND m.state IN ('waiting', 'sending'))),
         deliveries AS (DELETE FROM webhook_delivery d USING old WHERE d.event_id = old.id),
         mails AS (DELETE FROM mail m USING old WHERE m.event_id = old.id),
         gone AS (DELETE FROM event e USING old WHERE e.id = old.id RETURNING e.id)
         SELECT count(*)::int AS n FROM gone`,
        [days],
      );
      return Number(row?.['n']);
    },

    visitsOn: (from, to) =>
      rows(
        `SELECT o.id, o.number, o.site_id, r.id AS route_id, r.crew_id, coalesce(p.day, r.day) AS day, p.from_time, p.to_time, p.day IS NOT NULL AS promised
           FROM work_order o ${PROMISE}
           LEFT JOIN LATERAL (SELECT y.id, y.crew_id, y.day FROM stop s JOIN route y ON y.id = s.route_id
                               WHERE s.work_order_id = o.id AND s.live AND y.state = 'live' LIMIT 1) r ON true
          WHERE o.state IN ('wanted', 'placed') AND coalesce(p.day, r.day) BETWEEN $1 AND $2 ORDER BY day, o.number`,
        [from, to],
      ),

    stopsAfter: (workOrderId, day, since) =>
      rows(
        `SELECT n.kind, n.travel_s, n.starts_at, n.ends_at, r.id AS route_id, r.crew_id, o.id AS work_order_id, o.number, o.site_id, o.state, p.day AS promised_day, p.to_time,
                EXISTS (SELECT FROM sync_item y WHERE y.work_order_id = o.id AND y.kind = 'start' AND y.state = 'waiting' AND y.happened_at >= $3) AS begun,
                EXISTS (SELECT FROM sync_item y WHERE y.work_order_id = o.id AND y.kind IN ('on_the_way', 'running_late') AND y.state IN ('waiting', 'accepted') AND y.happened_at >= $3) AS said_since
           FROM stop s JOIN route r ON r.id = s.route_id AND r.state = 'live' AND r.day = $2
           JOIN stop n ON n.route_id = r.id AND n.position > s.position
           LEFT JOIN work_order o ON o.id = n.work_order_id ${PROMISE}
          WHERE s.work_order_id = $1 ORDER BY n.position`,
        [workOrderId, day, since],
      ),

    async comingSince(workOrderId, saidAt) {
      const [row] = await rows(
        `SELECT EXISTS (SELECT FROM attempt WHERE work_order_id = $1 AND started_at >= $2)
             OR EXISTS (SELECT FROM sync_item WHERE work_order_id = $1 AND kind = 'start' AND state = 'waiting' AND happened_at >= $2) AS begun,
                EXISTS (SELECT FROM sync_item WHERE work_order_id = $1 AND kind IN ('on_the_way', 'running_late') AND state IN ('waiting', 'accepted') AND happened_at > $2)
             OR EXISTS (SELECT FROM event WHERE work_order_id = $1 AND kind IN ('on_the_way', 'running_late') AND coalesce(facts->>'saidAt', facts->>'leftAt')::timestamptz > $2) AS said`,
        [workOrderId, saidAt],
      );
      return { begun: row?.['begun'] === true, said: row?.['said'] === true };
    },
  };
}
