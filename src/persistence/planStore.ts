import type { PlanStore } from '../actions/plans/planStore.js';
import { LOCATE_TICKET, WAITS_FOR } from './locateTicketOf.js';
import type { Queryable } from './rowStore.js';
import { siteContacts } from './siteContacts.js';
import { STANDS } from './stopStands.js';

/** The worst call an order came from: water in the house before all, then the shortest time, the last of equals. */
const CALL = `
  (SELECT jsonb_build_object('kind', k.kind, 'urgency', k.urgency, 'waterInHouse', coalesce(k.answers->>'waterInHouse', 'unknown'),
                             'callerName', k.caller_name, 'callerPhone', k.caller_phone)
     FROM phone_call k WHERE k.work_order_id = o.id ORDER BY k.answers ->> 'waterInHouse' = 'yes' DESC NULLS LAST, k.respond_by - k.received_at, k.received_at DESC LIMIT 1) AS call`;

const OPEN_ORDERS = `
  SELECT o.*, s.basement, ${CALL},
         coalesce(s.latitude, near.latitude) AS latitude, coalesce(s.longitude, near.longitude) AS longitude, s.access, s.hours, s.tap, s.address, s.town,
         coalesce(risk.plug_chance_year, 0) AS plug_chance_year, greatest(1, risk.lines)::int AS lines, near.place AS assumed_place,
         ${WAITS_FOR} AS waits_for,
         (SELECT jsonb_build_object('from', max(p.valid_from), 'to', min(p.valid_to), 'digFrom', ${LOCATE_TICKET}->'digFrom') FROM precondition p
           WHERE p.work_order_id = o.id AND p.state = 'met' AND (p.valid_from IS NOT NULL OR p.valid_to IS NOT NULL)) AS ticket,
         (SELECT jsonb_build_object('day', p.day, 'from', p.from_time, 'to', p.to_time) FROM promise p
           WHERE p.work_order_id = o.id AND p.ended_at IS NULL ORDER BY p.told_at DESC, p.created_at DESC LIMIT 1) AS promise,
         (SELECT jsonb_build_object('crewId', r.crew_id, 'day', r.day, 'position', st.position, 'startsAt', st.starts_at, 'publishedAt', r.published_at, 'onCall', r.on_call)
            FROM stop st JOIN route r ON r.id = st.route_id WHERE st.work_order_id = o.id AND st.live LIMIT 1) AS live_stop,
         (SELECT jsonb_build_object('state', f.state, 'doneAt', f.done_at, 'number', f.number) FROM work_order f WHERE f.id = o.follows_id) AS predecessor,
         (SELECT coalesce(jsonb_agg(jsonb_build_object('kind', k.kind, 'lineKind', l.kind, 'minutes', k.minutes) ORDER BY k.position), '[]')
            FROM work_order_task k LEFT JOIN line l ON l.id = k.line_id WHERE k.work_order_id = o.id AND k.result IS NULL) AS tasks
    FROM work_order o JOIN site s ON s.id = o.site_id
    -- The chance that one of its lines plugs, and how many lines it has.
    JOIN LATERAL (SELECT 1 - exp(sum(ln(1 - least(0.999, coalesce(t.plug_chance_year, 0))))) AS plug_chance_year, count(*) AS lines
                    FROM (SELECT DISTINCT line_id FROM work_order_task WHERE work_order_id = o.id AND line_id IS NOT NULL) k
                    LEFT JOIN trend t ON t.line_id = k.line_id) risk ON true
    -- A site nobody put on the map stands among its neighbours, or at the depots.
    LEFT JOIN LATERAL (
      SELECT * FROM (
        SELECT 1 AS rank, avg(n.latitude) AS latitude, avg(n.longitude) AS longitude, s.area AS place FROM site n WHERE n.area = s.area AND n.latitude IS NOT NULL
        UNION ALL SELECT 2, avg(n.latitude), avg(n.longitude), s.town FROM site n WHERE n.town = s.town AND n.latitude IS NOT NULL
        UNION ALL SELECT 3, avg(d.latitude), avg(d.longitude), 'the depot' FROM depot d WHERE d.archived_on IS NULL) x
       WHERE (s.latitude IS NULL OR s.longitude IS NULL) AND x.latitude IS NOT NULL ORDER BY rank LIMIT 1) near ON true
   WHERE o.state IN ('wanted', 'placed', 'under_way')
   ORDER BY o.number`;

/** What a crew's visits more than these add to its pace is less than the spread between two visits. */
const VISITS_OF_A_CREW = 400;

const TAKEN_MINUTES = `
  SELECT a.crew_id, k.kind, o.minutes AS planned_minutes, extract(epoch FROM a.ended_at - a.started_at)::float8 / 60 AS taken_minutes
    FROM crew c
    CROSS JOIN LATERAL (SELECT id, crew_id, work_order_id, started_at, ended_at FROM attempt
                         WHERE crew_id = c.id AND result = 'done' AND started_at >= $1::date ORDER BY started_at DESC, id LIMIT ${VISITS_OF_A_CREW}) a
    JOIN work_order o ON o.id = a.work_order_id
    JOIN LATERAL (SELECT kind FROM work_order_task WHERE work_order_id = o.id ORDER BY minutes DESC, position LIMIT 1) k ON true
   ORDER BY a.crew_id, k.kind, a.id`;

const ROUTES = `
  SELECT r.*, c.name AS crew_name, c.depot_id, d.name AS start_depot_name, d.latitude AS start_depot_latitude, d.longitude AS start_depot_longitude,
         e.name AS end_depot_name, e.latitude AS end_depot_latitude, e.longitude AS end_depot_longitude, h.starts_at AS shift_starts_at, h.ends_at AS shift_ends_at
    FROM route r JOIN crew c ON c.id = r.crew_id JOIN depot d ON d.id = c.depot_id JOIN depot e ON e.id = coalesce(c.end_depot_id, c.depot_id)
    LEFT JOIN shift h ON NOT r.on_call AND h.crew_id = r.crew_id AND h.weekday = to_char(r.day, 'dy') AND h.from_day <= r.day AND (h.to_day IS NULL OR h.to_day > r.day)`;

const stopsWhere = (condition: string) => `
  SELECT st.*, o.number, o.state AS order_state, o.minutes, o.water_l, o.sludge_l, s.id AS site_id, s.address, s.town, s.latitude, s.longitude, s.tap,
         a.started_at AS attempt_started_at, a.ended_at AS attempt_ended_at
    FROM stop st JOIN route r ON r.id = st.route_id
    LEFT JOIN work_order o ON o.id = st.work_order_id LEFT JOIN site s ON s.id = o.site_id
    LEFT JOIN LATERAL (SELECT started_at, ended_at FROM attempt
                        WHERE work_order_id = o.id AND started_at >= r.day::timestamptz - interval '1 day' AND started_at < r.day::timestamptz + interval '2 days'
                        ORDER BY started_at DESC LIMIT 1) a ON true
   WHERE st.route_id = ANY ($1) AND ${condition} ORDER BY st.route_id, st.position`;
const ALL_STOPS = stopsWhere('true');
const STANDING_STOPS = stopsWhere(STANDS);

export function makePlanStore(q: Queryable): PlanStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  const withStops = async (routes: Record<string, unknown>[], which = ALL_STOPS) => {
    if (routes.length === 0) return [];
    const stops = await rows(which, [routes.map((route) => route['id'])]);
    const byRoute = new Map(routes.map((route) => [route['id'], [] as Record<string, unknown>[]]));
    for (const stop of stops) byRoute.get(stop['route_id'])?.push(stop);
    return routes.map((route) => ({ ...route, stops: byRoute.get(route['id']) ?? [] }));
  };
  return {
    openOrders: () => rows(OPEN_ORDERS),
    takenMinutes: (since) => rows(TAKEN_MINUTES, [since]),
    async liveRoutes(fromDay, toDay) {
      return withStops(
        await rows(
          `${ROUTES} WHERE r.state = 'live' AND NOT r.on_call AND r.day BETWEEN $1 AND $2 ORDER BY r.day, c.name, r.id`,
          [fromDay, toDay],
        ),
        STANDING_STOPS,
      );
    },
    async onCallRoutes(fromDay) {
      return withStops(
        await rows(
          `${ROUTES} WHERE r.state = 'live' AND r.on_call AND r.day >= $1 ORDER BY r.day, c.name, r.id`,
          [fromDay],
        ),
        STANDING_STOPS,
      );
    },
    async planRoutes(planId) {
      return withStops(await rows(`${ROUTES} WHERE r.plan_id = $1 ORDER BY r.day, c.name, r.id`, [planId]));
    },
    contactsOf: (ids) =>
      rows(
        `SELECT o.id AS work_order_id, c.name, c.role, c.phone, c.language FROM work_order o
           JOIN LATERAL (${siteContacts('o.site_id', { phonable: true })}) c ON true
          WHERE o.id = ANY ($1) ORDER BY o.number, c.name, c.phone`,
        [ids],
      ),
    orderNames: (ids) =>
      rows(
        `SELECT o.id, o.number, o.state, o.cause, o.respond_by, s.address, s.town, s.basement, c.name AS client, st.starts_at, ${CALL}
           FROM work_order o JOIN site s ON s.id = o.site_id LEFT JOIN stop st ON st.work_order_id = o.id AND st.live
           LEFT JOIN LATERAL (SELECT name FROM site_client sc JOIN client ON client.id = sc.client_id
                               WHERE sc.site_id = s.id AND (sc.from_day IS NULL OR sc.from_day <= current_date) AND (sc.to_day IS NULL OR sc.to_day > current_date)
                               ORDER BY sc.from_day DESC NULLS LAST LIMIT 1) c ON true
          WHERE o.id = ANY ($1) ORDER BY o.number`,
        [ids],
      ),
    async makeLive(planId) {
      const replaced = await rows(
        `UPDATE route r SET state = 'replaced' FROM plan p
          WHERE p.id = $1 AND r.state = 'live' AND r.on_call = coalesce((p.by_hand->>'onCall')::boolean, false) AND r.closed_at IS NULL AND r.day BETWEEN p.from_day AND p.to_day
            AND (p.scope IS NULL OR p.scope @> jsonb_build_array(jsonb_build_object('crewId', r.crew_id, 'day', r.day)))
         RETURNING r.id`,
        [planId],
      );
      const left = await rows(
        'UPDATE stop SET live = false WHERE live AND route_id = ANY ($1) RETURNING work_order_id, route_id',
        [replaced.map((route) => route['id'])],
      );
      // An order that the plan moves here from a route outside its scope leaves that one.
      const pulled = await rows(
        `UPDATE stop st SET live = false WHERE st.live AND st.work_order_id IN
           (SELECT n.work_order_id FROM stop n JOIN route r ON r.id = n.route_id WHERE r.plan_id = $1)
         RETURNING work_order_id, route_id`,
        [planId],
      );
      const old = [...left, ...pulled];
      await endNights(
        q,
        pulled.map((stop) => stop['route_id']),
      );
      // What a crew was told of a day stays told when its route is replaced.
      await q.query(
        `UPDATE route r SET state = 'live', published_at = (SELECT p.published_at FROM route_publication p WHERE p.crew_id = r.crew_id AND p.day = r.day AND p.on_call = r.on_call) WHERE plan_id = $1`,
        [planId],
      );
      await q.query(
        'UPDATE stop SET live = true FROM route r WHERE r.id = stop.route_id AND r.plan_id = $1 AND stop.work_order_id IS NOT NULL',
        [planId],
      );
      await q.query(
        `UPDATE work_order o SET state = CASE WHEN s.id IS NULL THEN 'wanted' ELSE 'placed' END
           FROM work_order x LEFT JOIN stop s ON s.work_order_id = x.id AND s.live
          WHERE x.id = o.id AND o.state IN ('wanted', 'placed') AND o.state <> CASE WHEN s.id IS NULL THEN 'wanted' ELSE 'placed' END`,
      );
      // Who saw an order with another crew or on another day changes it from an old version.
      await q.query(
        `UPDATE work_order o SET updated_at = clock_timestamp()
           FROM unnest($2::uuid[], $3::uuid[]) old (work_order_id, route_id) JOIN route was ON was.id = old.route_id
           JOIN stop st ON st.work_order_id = old.work_order_id JOIN route r ON r.id = st.route_id AND r.plan_id = $1
          WHERE o.id = old.work_order_id AND (was.crew_id, was.day) IS DISTINCT FROM (r.crew_id, r.day)`,
        [planId, old.map((stop) => stop['work_order_id']), old.map((stop) => stop['route_id'])],
      );
    },
    async markOthersStale(planId, because) {
      const { rowCount } = await q.query(
        `UPDATE plan o SET state = 'stale', basis = NULL, stale_because = jsonb_build_array($2::jsonb) FROM plan p
          WHERE p.id = $1 AND o.id <> p.id AND o.state = 'proposed' AND o.from_day <= p.to_day AND o.to_day >= p.from_day`,
        [planId, JSON.stringify(because)],
      );
      return rowCount ?? 0;
    },
    async forgetUntaken(days) {
      const old = await rows(
        `SELECT p.id FROM plan p WHERE p.state IN ('proposed', 'discarded', 'stale') AND p.updated_at < business_now() - make_interval(days => $1)
            AND NOT EXISTS (SELECT FROM disruption d WHERE d.plan_id = p.id)
            AND NOT EXISTS (SELECT FROM route r WHERE r.plan_id = p.id AND r.state <> 'proposed')
          FOR UPDATE OF p SKIP LOCKED`,
        [days],
      );
      const ids = old.map(({ id }) => id);
      await q.query('DELETE FROM route WHERE plan_id = ANY ($1)', [ids]);
      await q.query('DELETE FROM plan WHERE id = ANY ($1)', [ids]);
      return ids.length;
    },
    async forgetReplaced(days) {
      const gone = await rows(
        `DELETE FROM route r WHERE r.state = 'replaced' AND r.day < business_now()::date - $1::int
            AND NOT EXISTS (SELECT FROM stop s JOIN attempt a ON a.stop_id = s.id WHERE s.route_id = r.id)
         RETURNING r.plan_id`,
        [days],
      );
      await q.query(
        `DELETE FROM plan p WHERE p.id = ANY ($1) AND p.state = 'accepted' AND p.to_day < business_now()::date - $2::int
            AND NOT EXISTS (SELECT FROM route r WHERE r.plan_id = p.id) AND NOT EXISTS (SELECT FROM disruption d WHERE d.plan_id = p.id)
            AND p.id <> ALL (SELECT n.id FROM plan n WHERE n.state = 'accepted' AND n.scope IS NULL ORDER BY n.accepted_at DESC LIMIT 1)`,
        [gone.map((route) => route['plan_id']), days],
      );
      return gone.length;
    },
    endNights: (routeIds) => endNights(q, routeIds),
    async acquireDays(days) {
      for (const day of [...new Set(days)].sort())
        await q.query('SELECT pg_advisory_xact_lock(72707371, hashtext($1))', [day]);
    },
    async acquireSearches() {
      await q.query(`SELECT pg_advisory_xact_lock(72707371, hashtext('searches'))`);
    },
  };
}

/** Routes out of the shift that nobody drives any more end: the crew is not called out for nothing. */
async function endNights(q: Queryable, routeIds: readonly unknown[]): Promise<void> {
  await q.query(
    `UPDATE route r SET state = 'replaced' WHERE r.id = ANY ($1) AND r.state = 'live' AND r.on_call AND r.closed_at IS NULL
        AND NOT EXISTS (SELECT FROM stop st WHERE st.route_id = r.id AND st.kind = 'visit' AND ${STANDS})`,
    [routeIds],
  );
}
