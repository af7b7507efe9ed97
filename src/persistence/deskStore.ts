import type { DeskStore } from '../actions/desk/deskStore.js';
import { CREW_DAY } from './crewDay.js';
import { LOCATE_TICKET, WAITS_FOR } from './locateTicketOf.js';
import type { Queryable } from './rowStore.js';
import { siteContacts } from './siteContacts.js';
import { TRIED } from './stopStands.js';

/** The visits of a route as a crew is told of them; one that was tried stays on the day it was. */
const VISITS_NOW = `
  coalesce((SELECT jsonb_agg(jsonb_build_object('workOrderId', o.id, 'number', o.number, 'address', s.address, 'startsAt', st.starts_at) ORDER BY st.position)
     FROM stop st JOIN work_order o ON o.id = st.work_order_id JOIN site s ON s.id = o.site_id
    WHERE st.route_id = r.id AND (st.live OR ${TRIED})), '[]')`;

const PUBLISHED = `
  SELECT p.*, c.name AS crew_name, r.id AS route_id, ${VISITS_NOW} AS now
    FROM route_publication p JOIN crew c ON c.id = p.crew_id
    LEFT JOIN route r ON r.crew_id = p.crew_id AND r.day = p.day AND r.on_call = p.on_call AND r.state = 'live' AND NOT (r.on_call AND r.closed_at IS NOT NULL)
   WHERE p.day >= $1 ORDER BY p.day, c.name, p.id`;

const VISITS = `
  SELECT st.id AS stop_id, st.position, st.starts_at, st.ends_at, st.live, o.id, o.number, o.state, o.site_id, o.cause, o.wanted_by, s.address, s.town,
         (SELECT jsonb_build_object('id', p.id, 'day', p.day, 'from', p.from_time, 'to', p.to_time) FROM promise p
           WHERE p.work_order_id = o.id AND p.ended_at IS NULL ORDER BY p.told_at DESC, p.created_at DESC LIMIT 1) AS promise
    FROM stop st JOIN work_order o ON o.id = st.work_order_id JOIN site s ON s.id = o.site_id
   WHERE st.route_id = $1 AND st.live ORDER BY st.position`;

const ROUTES = `
  SELECT r.*, c.name AS crew_name, p.id AS publication_id, p.published_at AS told_at, p.published_by AS told_by, p.times AS told_times, p.stops AS told_stops, ${VISITS_NOW} AS now,
         n.visits, n.done, n.under_way, n.ahead, n.tried, n.next
    FROM route r JOIN crew c ON c.id = r.crew_id LEFT JOIN route_publication p ON p.crew_id = r.crew_id AND p.day = r.day AND p.on_call = r.on_call
    JOIN LATERAL (
      SELECT count(*)::int AS visits, count(*) FILTER (WHERE st.live AND o.state = 'done')::int AS done, count(*) FILTER (WHERE st.live AND o.state = 'under_way')::int AS under_way,
             count(*) FILTER (WHERE st.live AND o.state IN ('wanted', 'placed'))::int AS ahead, count(*) FILTER (WHERE NOT st.live)::int AS tried,
             (array_agg(jsonb_build_object('workOrderId', o.id, 'number', o.number, 'startsAt', st.starts_at) ORDER BY st.position) FILTER (WHERE st.live AND o.state IN ('wanted', 'placed')))[1] AS next
        FROM stop st JOIN work_order o ON o.id = st.work_order_id WHERE st.route_id = r.id AND (st.live OR ${TRIED})) n ON true
   WHERE r.state = 'live' AND r.day BETWEEN $1 AND $2 ORDER BY r.day, c.name, r.id`;

/** What the client of an order `o` was told last and is still promised. */
export const PROMISE = `
  (SELECT jsonb_build_object('id', p.id, 'day', p.day, 'from', p.from_time, 'to', p.to_time) FROM promise p
    WHERE p.work_order_id = o.id AND p.ended_at IS NULL ORDER BY p.told_at DESC, p.created_at DESC LIMIT 1)`;

const AHEAD = `
  SELECT r.id AS route_id, r.day, r.on_call, c.id AS crew_id, c.name AS crew_name, ${CREW_DAY} AS crew_day, r.published_at IS NOT NULL AS published,
         (SELECT coalesce(jsonb_agg(jsonb_build_object('workOrderId', o.id, 'number', o.number, 'address', s.address, 'startsAt', st.starts_at, 'kit', o.kit, 'cause', o.cause, 'people', o.people,
                   'waitsFor', ${WAITS_FOR}, 'ticket', ${LOCATE_TICKET}, 'promise', ${PROMISE},
                   'tasks', (SELECT coalesce(jsonb_agg(jsonb_build_object('kind', k.kind, 'lineKind', l.kind) ORDER BY k.position), '[]')
                               FROM work_order_task k LEFT JOIN line l ON l.id = k.line_id WHERE k.work_order_id = o.id AND k.result IS NULL)) ORDER BY st.position), '[]')
            FROM stop st JOIN work_order o ON o.id = st.work_order_id JOIN site s ON s.id = o.site_id
           WHERE st.route_id = r.id AND st.live AND o.state IN ('wanted', 'placed')) AS visits
    FROM route r JOIN crew c ON c.id = r.crew_id
   WHERE r.state = 'live' AND r.closed_at IS NULL AND r.day BETWEEN $1 AND $2 ORDER BY r.day, c.name, r.id`;

const PROMISES = `
  SELECT p.*, o.number, o.state AS order_state, s.id AS site_id, s.address, s.town, r.day AS planned_day, st.starts_at AS planned_at, c.id AS crew_id, c.name AS crew_name,
         (SELECT a.started_at FROM attempt a WHERE a.work_order_id = o.id AND a.started_at >= p.day::timestamptz - interval '1 day' AND a.started_at < p.day::timestamptz + interval '2 days'
           ORDER BY a.started_at DESC LIMIT 1) AS came_at,
         coalesce((SELECT jsonb_agg(to_jsonb(c) ORDER BY c.name, c.phone) FROM (${siteContacts('s.id', { phonable: true })}) c), '[]') AS contacts
    FROM promise p JOIN work_order o ON o.id = p.work_order_id JOIN site s ON s.id = o.site_id
    LEFT JOIN stop st ON st.work_order_id = o.id AND st.live LEFT JOIN route r ON r.id = st.route_id LEFT JOIN crew c ON c.id = r.crew_id
   WHERE p.day BETWEEN $1 AND $2 ORDER BY p.day, p.from_time NULLS LAST, o.number, p.told_at`;

const NOT_AGREED = `
  SELECT o.id, o.number, s.id AS site_id, s.address, s.town, s.access, r.id AS route_id, r.day, c.id AS crew_id, c.name AS crew_name, st.starts_at,
         (SELECT array_agg(DISTINCT k.kind) FROM work_order_task k WHERE k.work_order_id = o.id AND k.open) AS tasks,
         coalesce((SELECT jsonb_agg(to_jsonb(n) ORDER BY n.name, n.phone) FROM (${siteContacts('s.id', { phonable: true })}) n), '[]') AS contacts
    FROM route r JOIN crew c ON c.id = r.crew_id JOIN stop st ON st.route_id = r.id AND st.live
    JOIN work_order o ON o.id = st.work_order_id AND o.state IN ('wanted', 'placed') JOIN site s ON s.id = o.site_id
   WHERE r.state = 'live' AND r.closed_at IS NULL AND r.day BETWEEN $1 AND $2 AND s.access = 'someone_home'
     AND NOT EXISTS (SELECT FROM promise p WHERE p.work_order_id = o.id AND p.ended_at IS NULL)
   ORDER BY st.starts_at, o.number`;

const UNPLACED = `
  SELECT o.id, o.number, o.site_id, o.cause, o.not_before, o.wanted_by, o.respond_by, o.minutes, o.people, o.kit, o.lock_day, o.created_at, o.because_of,
         s.address, s.town, s.latitude IS NULL AS off_map,
         coalesce((SELECT jsonb_agg(jsonb_build_object('id', p.id, 'kind', p.kind, 'since', p.created_at, 'facts', p.facts) ORDER BY p.kind, p.id)
            FROM precondition p WHERE p.work_order_id = o.id AND p.state = 'open'), '[]') AS waits,
         (SELECT jsonb_build_object('id', f.id, 'number', f.number, 'state', f.state) FROM work_order f WHERE f.id = o.follows_id AND f.state <> 'done') AS follows,
         (SELECT p.day FROM promise p WHERE p.work_order_id = o.id AND p.ended_at IS NULL ORDER BY p.told_at DESC, p.created_at DESC LIMIT 1) AS promised_day
    FROM work_order o JOIN site s ON s.id = o.site_id
   WHERE o.state IN ('wanted', 'placed') AND NOT EXISTS (SELECT FROM stop st WHERE st.work_order_id = o.id AND st.live)
   ORDER BY o.respond_by NULLS LAST, o.wanted_by NULLS LAST, o.number`;

/** A conflict has the id of its item, unless it came by another address or with a taken id. */
const OPEN_ITEMS = `
  SELECT i.id, i.kind, i.state, i.author, i.happened_at, i.work_order_id, i.waits_for, i.problem, k.because, o.number, m.crew_id
    FROM sync_item i LEFT JOIN conflict k ON k.id = i.id AND k.settled_at IS NULL LEFT JOIN work_order o ON o.id = i.work_order_id
    LEFT JOIN LATERAL (SELECT crew_id FROM crew_membership WHERE member_id = i.member_id AND from_day <= $1 AND (to_day IS NULL OR to_day > $1) ORDER BY from_day DESC LIMIT 1) m ON true
   WHERE i.happened_at >= $2 AND i.happened_at < $3 AND (i.state IN ('waiting', 'refused') OR (i.state = 'conflict' AND k.id IS NOT NULL))
  UNION ALL
  SELECT k.id, k.resource, 'conflict', k.author, k.created_at, o.id, '{}', NULL, k.because, o.number, NULL
    FROM conflict k LEFT JOIN work_order o ON o.id = k.resource_id OR o.id = (SELECT work_order_id FROM work_order_task WHERE id = k.resource_id)
   WHERE k.settled_at IS NULL AND k.created_at >= $2 AND k.created_at < $3 AND NOT EXISTS (SELECT FROM sync_item i WHERE i.id = k.id AND i.state = 'conflict')
   ORDER BY happened_at, id`;

const LAST_PLAN = `
  SELECT id, from_day, to_day, accepted_at, unplaced FROM plan WHERE state = 'accepted' AND scope IS NULL ORDER BY accepted_at DESC LIMIT 1`;

/** What gave way by hand since a plan for all crews was accepted, the last word of each order. */
const GAVE_WAY = `
  SELECT DISTINCT ON (u->>'workOrderId') u AS unplaced, p.id AS plan_id FROM plan p, jsonb_array_elements(p.unplaced) u
   WHERE p.state = 'accepted' AND p.scope IS NOT NULL AND ($1::timestamptz IS NULL OR p.accepted_at >= $1)
   ORDER BY u->>'workOrderId', p.accepted_at DESC`;

const THIN = `
  SELECT o.id AS order_id, s.id AS site_id, s.basement, s.tap,
         jsonb_agg(DISTINCT jsonb_build_object('id', l.id, 'name', l.name, 'assumed', l.assumed, 'staysWet', l.stays_wet, 'material', l.main_material, 'boreMm', l.main_bore_mm,
           'lengthM', l.length_m, 'outlet', l.outlet, 'components', t.components, 'asOf', t.as_of, 'actionOn', t.action_q50_on, 'dueOn', t.due_on, 'dueRule', t.due_rule,
           'rateQ10', t.rate_q10, 'rateQ90', t.rate_q90)) AS lines
    FROM work_order o JOIN site s ON s.id = o.site_id
    JOIN work_order_task k ON k.work_order_id = o.id JOIN line l ON l.id = k.line_id LEFT JOIN trend t ON t.line_id = l.id
   WHERE o.id = ANY ($1) AND o.question IS NULL GROUP BY o.id, s.id, s.basement, s.tap ORDER BY o.id`;

const PLACED = `
  SELECT o.id, o.number, o.minutes, r.day FROM work_order o JOIN stop st ON st.work_order_id = o.id AND st.live JOIN route r ON r.id = st.route_id
   WHERE r.day >= $1 AND o.state IN ('placed', 'under_way')`;

const KNOWN = `
  SELECT count(*)::int AS lines, count(*) FILTER (WHERE t.readings_used > 0)::int AS read,
         (SELECT count(DISTINCT l.system_id)::int FROM line l LEFT JOIN trend t ON t.line_id = l.id WHERE l.archived_on IS NULL AND coalesce(t.readings_used, 0) = 0) AS systems_unseen,
         (SELECT count(*)::int FROM work_order WHERE cause = 'first_survey' AND state IN ('wanted', 'placed', 'under_way')) AS surveys_ordered,
         (SELECT max(wanted_by) FROM work_order WHERE cause = 'first_survey' AND state IN ('wanted', 'placed', 'under_way')) AS surveys_until,
         (SELECT count(*)::int FROM work_order WHERE cause = 'first_survey' AND state = 'done') AS surveys_done,
         (SELECT coalesce(jsonb_object_agg(fact, n), '{}') FROM (SELECT fact, count(*)::int AS n FROM line, unnest(assumed) fact WHERE archived_on IS NULL GROUP BY fact) a) AS assumed,
         (SELECT count(*)::int FROM work_order WHERE question IS NOT NULL) AS asked,
         (SELECT count(*)::int FROM work_order WHERE question ? 'answer') AS answered
    FROM line l LEFT JOIN trend t ON t.line_id = l.id WHERE l.archived_on IS NULL`;

export function makeDeskStore(q: Queryable): DeskStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  return {
    gone: (day, crewId) =>
      rows(
        `SELECT p.*, c.name AS crew_name, '[]'::jsonb AS now FROM route_publication p JOIN crew c ON c.id = p.crew_id
          WHERE p.day = $1 AND ($2::uuid IS NULL OR p.crew_id = $2) AND jsonb_array_length(p.stops) > 0
            AND NOT EXISTS (SELECT FROM route r WHERE r.crew_id = p.crew_id AND r.day = p.day AND r.on_call = p.on_call AND r.state = 'live') ORDER BY c.name, p.id`,
        [day, crewId],
      ),
    published: (fromDay) => rows(PUBLISHED, [fromDay]),
    visits: (routeId) => rows(VISITS, [routeId]),
    async visitsNow(routeId) {
      const [route] = await rows(`SELECT ${VISITS_NOW} AS now FROM route r WHERE r.id = $1`, [routeId]);
      return route?.['now'] ?? [];
    },
    routes: (fromDay, toDay) => rows(ROUTES, [fromDay, toDay]),
    ahead: (fromDay, toDay) => rows(AHEAD, [fromDay, toDay]),
    promises: (fromDay, toDay) => rows(PROMISES, [fromDay, toDay]),
    notAgreed: (fromDay, toDay) => rows(NOT_AGREED, [fromDay, toDay]),
    openItems: (day, from, to) => rows(OPEN_ITEMS, [day, from, to]),
    unplaced: () => rows(UNPLACED),
    async gaveWay(since) {
      return (await q.query(GAVE_WAY, [since])).rows;
    },
    async lastPlan() {
      return (await rows(LAST_PLAN))[0] ?? null;
    },
    thinOrders: (ids) => rows(THIN, [ids]),
    async knownSoFar() {
      return (await rows(KNOWN))[0] ?? {};
    },
    async onTheRoad(fromDay) {
      const [row] = await rows(
        `SELECT coalesce(sum(drive_s), 0)::float8 AS drive_s, coalesce(sum(work_s), 0)::float8 AS work_s FROM route WHERE state = 'live' AND day >= $1`,
        [fromDay],
      );
      return { driveSeconds: Number(row?.['drive_s']), workSeconds: Number(row?.['work_s']) };
    },
    placed: (fromDay) => rows(PLACED, [fromDay]),
  };
}
