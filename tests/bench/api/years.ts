import type { Pool } from 'pg';
import { DAY } from './work.js';

const VISITS = 6;
const DAYS_BETWEEN = 120;
const STOPS_A_DAY = 10;
/** Of every ten sites one has an order that waits. */
const WAITING_OF = 10;
const SITES_A_CREW = 500;

/**
 * What two years leave behind beside readings: clients, orders done and waiting with tasks, routes, attempts, the log of
 * changes, events, keys of requests, what phones sent, notes. By SQL without triggers, from the sites and lines there are.
 */
const STATEMENTS = [
  `UPDATE site SET latitude = 44 + abs(hashtext(id::text)) % 1000 / 2000.0, longitude = -90 + abs(hashtext(id::text || 'E')) % 1000 / 2000.0`,
  `CREATE TEMP TABLE its AS SELECT id AS site_id, row_number() OVER (ORDER BY id) - 1 AS n FROM site`,
  `CREATE INDEX ON its (n)`,
  `CREATE TEMP TABLE ours AS SELECT n, gen_random_uuid() AS id, gen_random_uuid() AS depot, gen_random_uuid() AS member FROM generate_series(0, (SELECT count(*) / ${SITES_A_CREW} FROM site)) n`,
  `INSERT INTO client (id, name, phone) SELECT md5('client' || n)::uuid, 'Client ' || n || ' Marsh', '555 ' || lpad(n::text, 6, '0') FROM its`,
  `INSERT INTO site_client (id, site_id, client_id, from_day) SELECT gen_random_uuid(), site_id, md5('client' || n)::uuid, '2020-01-01' FROM its`,
  `INSERT INTO contact (id, client_id, site_id, name, role, phone) SELECT gen_random_uuid(), md5('client' || n)::uuid, site_id, 'Occupant ' || n, 'occupant', '555 ' || lpad((n + 1000000)::text, 7, '0') FROM its`,
  `INSERT INTO depot (id, name, latitude, longitude) SELECT depot, 'Yard ' || n, 44, -90 FROM ours`,
  `INSERT INTO crew (id, name, depot_id, people) SELECT id, 'Crew ' || n, depot, 2 FROM ours`,
  `INSERT INTO member (id, name) SELECT member, 'Member ' || n FROM ours`,
  `INSERT INTO crew_membership (id, crew_id, member_id, from_day) SELECT gen_random_uuid(), id, member, '2020-01-01' FROM ours`,
  `CREATE TEMP TABLE visit AS
     SELECT gen_random_uuid() AS id, gen_random_uuid() AS stop_id, i.site_id, c.id AS crew_id, date '${DAY}' - (v * ${DAYS_BETWEEN} + 1 + (i.n % ${SITES_A_CREW}) / ${STOPS_A_DAY})::int AS day, i.n % ${STOPS_A_DAY} AS turn
       FROM its i JOIN ours c ON c.n = i.n / ${SITES_A_CREW} CROSS JOIN generate_series(0, ${VISITS - 1}) v`,
  `CREATE TEMP TABLE done_day AS SELECT gen_random_uuid() AS id, md5('plan' || day)::uuid AS plan_id, crew_id, day FROM visit GROUP BY crew_id, day`,
  `INSERT INTO plan (id, state, from_day, to_day, because, asked_by, seed, search_seconds, accepted_at) SELECT DISTINCT ON (day) plan_id, 'accepted', day, day, 'night', 'night', 1, 1, day FROM done_day`,
  `INSERT INTO route (id, plan_id, crew_id, day, state) SELECT id, plan_id, crew_id, day, 'live' FROM done_day`,
  `INSERT INTO work_order (id, site_id, state, cause, minutes, wanted_by, started_at, done_at, created_at) SELECT id, site_id, 'done', 'due', 40, day, day + time '14:00', day + time '15:00', day - 20 FROM visit`,
  `INSERT INTO work_order_task (id, work_order_id, position, kind, line_id, minutes, open, done_at)
     SELECT gen_random_uuid(), v.id, row_number() OVER (PARTITION BY v.id ORDER BY l.id), 'jet', l.id, 20, false, v.day FROM visit v JOIN line l ON l.site_id = v.site_id`,
  `INSERT INTO stop (id, route_id, work_order_id, position, live, travel_s, travel_m, arrives_at, starts_at, ends_at)
     SELECT v.stop_id, d.id, v.id, v.turn + 1, true, 300, 3000, v.day + time '13:00', v.day + time '13:00', v.day + time '14:00' FROM visit v JOIN done_day d USING (crew_id, day)`,
  `INSERT INTO attempt (id, work_order_id, stop_id, crew_id, author, started_at, ended_at, result) SELECT gen_random_uuid(), id, stop_id, crew_id, 'bench', day + time '13:00', day + time '14:00', 'done' FROM visit`,
  `INSERT INTO work_order (id, site_id, state, cause, minutes, wanted_by, created_at)
     SELECT md5('wanted' || n)::uuid, site_id, 'wanted', 'due', 40, date '${DAY}' + (n % 60)::int, '${DAY}' FROM its WHERE n % ${WAITING_OF} = 0`,
  `INSERT INTO work_order_task (id, work_order_id, position, kind, line_id, minutes)
     SELECT gen_random_uuid(), md5('wanted' || i.n)::uuid, 1, 'jet', (SELECT id FROM line l WHERE l.site_id = i.site_id LIMIT 1), 40 FROM its i WHERE i.n % ${WAITING_OF} = 0
   ON CONFLICT DO NOTHING`,
  `INSERT INTO event (id, kind, subject_id, site_id, work_order_id, once_key, facts, posted_at, created_at) SELECT gen_random_uuid(), 'work_finished', id, site_id, id, 'finished ' || id, '{}', day, day + time '15:00' FROM visit`,
  `INSERT INTO event (id, kind, subject_id, site_id, line_id, once_key, facts, posted_at, created_at) SELECT gen_random_uuid(), 'line_past_limit', id, site_id, id, 'past ' || id, '{}', now(), date '${DAY}' - abs(hashtext(id::text)) % 700 FROM line`,
  `INSERT INTO note (id, site_id, text, noted_at, author, author_id) SELECT gen_random_uuid(), site_id, 'key under the pot', day, 'bench', crew_id FROM visit WHERE turn % 3 = 0`,
  `INSERT INTO sync_item (id, kind, state, author, author_id, key_id, member_id, roles, happened_at, clock_offset_s, work_order_id, fingerprint, content, work, settled_at, created_at)
     SELECT gen_random_uuid(), k, 'accepted', 'bench', c.member, c.id, c.member, '{technician}', v.day + time '14:00', 0, v.id, '\\x00', '{}', '{}', v.day + time '15:00', v.day + time '15:00'
       FROM visit v JOIN ours c ON c.id = v.crew_id CROSS JOIN unnest(ARRAY['start', 'finish']) k`,
  `INSERT INTO idempotency_key (caller, key, fingerprint, status, body, created_at) SELECT crew_id, id::text, '\\x00', 201, '{}', '${DAY}' FROM visit ORDER BY day DESC LIMIT 20000`,
  `INSERT INTO idempotency_key (caller, key, fingerprint, created_at) SELECT '00000000-0000-0000-0000-000000000000', 'id:' || id, '\\x00', day FROM visit`,
  `INSERT INTO change_log (resource, row_id, op, version, actor, xact, at)
     SELECT r, CASE r WHEN 'stop' THEN v.stop_id ELSE v.id END, o, 1, 'bench', 1, v.day + time '14:00'
       FROM visit v CROSS JOIN unnest(ARRAY['work_order', 'stop']) r CROSS JOIN unnest(ARRAY['created', 'changed', 'changed']) o ORDER BY v.day`,
];

/** Fills a base of sites and lines with what its years left. */
export async function layYears(pool: Pool): Promise<void> {
  const client = await pool.connect();
  try {
    await client.query('BEGIN; SET LOCAL session_replication_role = replica');
    for (const statement of STATEMENTS) await client.query(statement);
    await client.query('COMMIT');
  } finally {
    client.release(true);
  }
  await pool.query('VACUUM ANALYZE');
}
