import type { FeedStore } from '../actions/telling/feedStore.js';
import type { CalendarEntry } from '../domain/telling/calendarEntries.js';
import type { CalendarState } from '../domain/words.js';
import type { Queryable } from './rowStore.js';

const TASKS = `(SELECT array_agg(k.kind ORDER BY k.position) FROM work_order_task k WHERE k.work_order_id = o.id) AS tasks`;

const CREW_VISITS = `
  SELECT DISTINCT ON (o.id) o.id, o.number, o.state AS order_state, o.people, r.day, st.starts_at, st.ends_at, a.started_at, a.ended_at, a.result, s.address, s.town, ${TASKS},
         EXISTS (SELECT FROM route_publication p WHERE p.crew_id = r.crew_id AND p.day = r.day AND p.on_call = r.on_call) AS published
    FROM route r JOIN stop st ON st.route_id = r.id JOIN work_order o ON o.id = st.work_order_id JOIN site s ON s.id = o.site_id
    LEFT JOIN LATERAL (SELECT x.started_at, x.ended_at, x.result FROM attempt x WHERE x.stop_id = st.id ORDER BY x.started_at DESC LIMIT 1) a ON true
   WHERE r.crew_id = $1 AND r.state = 'live' AND r.day BETWEEN $2 AND $3 AND (st.live OR a.started_at IS NOT NULL)
   ORDER BY o.id, r.day DESC, st.position DESC`;

const SITE_VISITS = `
  SELECT o.id, o.number, o.state AS order_state, o.minutes, p.day AS promised_day, p.from_time, p.to_time, r.day AS planned_day, o.done_at, a.started_at, a.ended_at, a.result, s.address, s.town, ${TASKS}
    FROM work_order o JOIN site s ON s.id = o.site_id
    LEFT JOIN LATERAL (SELECT x.day, x.from_time, x.to_time FROM promise x WHERE x.work_order_id = o.id AND x.ended_at IS NULL ORDER BY x.told_at DESC, x.created_at DESC LIMIT 1) p ON true
    LEFT JOIN LATERAL (SELECT y.day FROM stop st JOIN route y ON y.id = st.route_id AND y.state = 'live' WHERE st.work_order_id = o.id AND st.live LIMIT 1) r ON true
    LEFT JOIN LATERAL (SELECT z.started_at, z.ended_at, z.result FROM attempt z WHERE z.work_order_id = o.id ORDER BY z.started_at DESC LIMIT 1) a ON true
   WHERE o.site_id = $1 AND (o.state = 'under_way' OR (o.state IN ('wanted', 'placed') AND coalesce(p.day, r.day) IS NOT NULL) OR (o.state = 'done' AND o.done_at >= $2))
   ORDER BY o.number`;

export function makeFeedStore(q: Queryable): FeedStore {
  const rows = async (text: string, values: unknown[]) => (await q.query(text, values)).rows;
  return {
    async byHash(hash) {
      const [row] = await rows(
        `SELECT f.*, c.name AS crew_name, s.address, s.town FROM feed f LEFT JOIN crew c ON c.id = f.crew_id LEFT JOIN site s ON s.id = f.site_id
          WHERE f.hash = $1 AND f.revoked_at IS NULL`,
        [hash],
      );
      return row ?? null;
    },
    async lockCalendar(ownerId) {
      await q.query(`SELECT pg_advisory_xact_lock(hashtextextended('calendar ' || $1, 0))`, [ownerId]);
    },
    crewVisits: (crewId, from, to) => rows(CREW_VISITS, [crewId, from, to]),
    siteVisits: (siteId, doneSince) => rows(SITE_VISITS, [siteId, doneSince]),
    async entries(ownerId) {
      const found = await rows(
        'SELECT * FROM calendar_entry WHERE owner_id = $1 ORDER BY starts, work_order_id',
        [ownerId],
      );
      return found.map(
        (row): CalendarEntry => ({
          workOrderId: String(row['work_order_id']),
          sequence: Number(row['sequence']),
          state: row['state'] as CalendarState,
          starts: String(row['starts']),
          ends: String(row['ends']),
          summary: String(row['summary']),
          description: String(row['description']),
          location: row['location'] as string | null,
          changedAt: String(row['changed_at']),
          createdAt: String(row['created_at']),
        }),
      );
    },
    async putEntries(ownerId, entries) {
      const written = entries.map((entry) => ({
        owner_id: ownerId,
        work_order_id: entry.workOrderId,
        sequence: entry.sequence,
        state: entry.state,
        starts: entry.starts,
        ends: entry.ends,
        summary: entry.summary,
        description: entry.description,
        location: entry.location,
        changed_at: entry.changedAt,
        created_at: entry.createdAt,
      }));
      await q.query(
        `INSERT INTO calendar_entry SELECT r.* FROM jsonb_populate_recordset(NULL::calendar_entry, $1::jsonb) r
         ON CONFLICT (owner_id, work_order_id) DO UPDATE SET sequence = EXCLUDED.sequence, state = EXCLUDED.state, starts = EXCLUDED.starts, ends = EXCLUDED.ends,
           summary = EXCLUDED.summary, description = EXCLUDED.description, location = EXCLUDED.location, changed_at = EXCLUDED.changed_at`,
        [JSON.stringify(written)],
      );
    },
  };
}
