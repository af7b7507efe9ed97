import type { AnswerStore } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { CREW_DAY } from './crewDay.js';
import { PROMISE } from './deskStore.js';
import { LOCATE_TICKET, WAITS_FOR } from './locateTicketOf.js';
import { CALLED, CHANGED_AND_CLEANED, CLEANED, CLEANED_BY_CHANGE, VISITS_SET_FROM } from './nightBooks.js';
import { PLACE_CAUTIONS } from './placeCautions.js';
import type { Queryable } from './rowStore.js';
import { siteContacts } from './siteContacts.js';
import { STANDS } from './stopStands.js';

/** A task with what a crew must know of its line or pit; the last reading is what the client base believes it found. */
const TASKS = `
  SELECT coalesce(jsonb_agg(jsonb_build_object(
           'id', k.id, 'position', k.position, 'kind', k.kind, 'lineId', k.line_id, 'pitId', k.pit_id, 'minutes', k.minutes, 'plan', k.plan, 'result', k.result, 'declinedBy', k.declined_by,
           'line', CASE WHEN l.id IS NOT NULL THEN jsonb_build_object('name', l.name, 'kind', l.kind, 'material', l.main_material, 'bore_mm', l.main_bore_mm,
             'length_m', l.length_m, 'outlet', l.outlet, 'drains_to', l.drains_to, 'perforated', l.perforated, 'wrapped', l.wrapped, 'under_slab', l.under_slab,
             'deposit', l.deposit, 'assumed', l.assumed, 'note', l.note, 'occlusion', t.occlusion,
             'last_reading', (SELECT jsonb_build_object('observedAt', i.observed_at, 'phase', i.phase, 'method', i.method, 'occlusion', i.occlusion, 'plugged', i.plugged)
                                FROM inspection i WHERE i.line_id = l.id AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL ORDER BY i.observed_at DESC LIMIT 1),
             'last_readings', (SELECT coalesce(jsonb_agg(to_jsonb(r)), '[]') FROM (
                                SELECT i.id, i.observed_at AS "observedAt", i.phase, i.method, i.occlusion, i.standard_error AS "standardError", i.plugged, i.deposit, i.place, i.note
                                  FROM inspection i WHERE i.line_id = l.id AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL ORDER BY i.observed_at DESC LIMIT 4) r)) END,
           'pit', CASE WHEN p.id IS NOT NULL THEN jsonb_build_object('place', p.place, 'depth_mm', p.depth_mm, 'diameter_mm', p.diameter_mm, 'enterable', p.enterable,
             'last_look', (SELECT jsonb_build_object('observedAt', i.observed_at, 'found', i.raw) FROM inspection i
                            WHERE i.pit_id = p.id AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL ORDER BY i.observed_at DESC LIMIT 1)) END
         ) ORDER BY k.position), '[]')
    FROM work_order_task k LEFT JOIN line l ON l.id = k.line_id LEFT JOIN trend t ON t.line_id = l.id LEFT JOIN pit p ON p.id = k.pit_id
   WHERE k.work_order_id = o.id`;

/** @param from What plays the stop `st`, with the route `r` of its crew's day. */
const stopsOf = (from: string, rest: string): string => `
  SELECT st.*, o.number, o.state AS order_state, o.cause, o.note AS order_note, o.question, tried.attempt IS NOT NULL AS tried, tried.attempt, o.minutes, o.people, o.kit, o.water_l, o.sludge_l, o.because_of,
         o.lock_day, o.lock_crew_id, o.lock_from, o.lock_to, o.lock_sequence, o.lock_by, o.locked_at, o.lock_because,
         s.id AS site_id, s.address, s.town, s.latitude, s.longitude, s.access, s.access_notes, s.basement, s.tap, s.hours, d.name AS depot_name, d.latitude AS depot_latitude, d.longitude AS depot_longitude, d.water AS depot_water, d.disposal AS depot_disposal,
         (${TASKS}) AS tasks, ${PLACE_CAUTIONS}, ${WAITS_FOR} AS waits_for, ${LOCATE_TICKET} AS locate_ticket,
         (SELECT jsonb_build_object('receiver', w.receiver, 'place', w.place, 'permitRef', w.permit_ref, 'sludgeTo', w.sludge_to, 'assumed', w.assumed) FROM water_record w
           WHERE w.work_order_id = o.id AND w.phase = 'planned' AND NOT EXISTS (SELECT FROM precondition q WHERE q.work_order_id = o.id AND q.kind = 'discharge_plan' AND q.state = 'open')
           ORDER BY w.at DESC, w.id DESC LIMIT 1) AS water_plan,
         ${PROMISE} AS promise,
         coalesce((SELECT jsonb_agg(to_jsonb(c) ORDER BY c.role, c.name) FROM (${siteContacts('s.id', { phonable: false })}) c), '[]') AS contacts,
         coalesce((SELECT jsonb_agg(jsonb_build_object('id', a.id, 'kind', a.kind, 'place', a.place, 'distance_m', a.distance_m, 'distanceFrom', a.distance_from, 'unconfirmed', a.unconfirmed, 'lineId', a.line_id, 'pitId', a.pit_id, 'kitCanEnter', a.kit_can_enter, 'direction', a.direction, 'note', a.note) ORDER BY a.kind, a.place)
            FROM access_point a WHERE a.site_id = s.id AND a.archived_on IS NULL), '[]') AS access_points,
         coalesce((SELECT jsonb_agg(jsonb_build_object('id', y.id, 'name', y.name, 'kind', y.kind) ORDER BY y.name, y.id) FROM system y WHERE y.site_id = s.id AND y.archived_on IS NULL), '[]') AS systems,
         coalesce((SELECT jsonb_agg(to_jsonb(n)) FROM (SELECT n.id, n.text, n.noted_at AS "notedAt", n.author, n.line_id AS "lineId", n.pit_id AS "pitId"
            FROM note n WHERE n.site_id = s.id AND n.archived_on IS NULL ORDER BY n.noted_at DESC LIMIT 6) n), '[]') AS notes,
         coalesce((SELECT jsonb_agg(to_jsonb(h)) FROM (SELECT a.id, a.caption, a.taken_at AS "takenAt", a.line_id AS "lineId", a.pit_id AS "pitId", f.kind, f.thumbnail_key IS NOT NULL AS small
            FROM attachment a JOIN stored_file f ON f.id = a.id WHERE a.site_id = s.id AND a.archived_on IS NULL ORDER BY a.taken_at DESC LIMIT 8) h), '[]') AS pictures
    FROM ${from} LEFT JOIN work_order o ON o.id = st.work_order_id LEFT JOIN site s ON s.id = o.site_id LEFT JOIN depot d ON d.id = st.depot_id
    LEFT JOIN LATERAL (SELECT jsonb_build_object('startedAt', a.started_at, 'endedAt', a.ended_at, 'result', a.result, 'reason', a.reason) AS attempt
                         FROM attempt a JOIN stop x ON x.id = a.stop_id JOIN route y ON y.id = x.route_id
                        WHERE a.work_order_id = o.id AND y.crew_id = r.crew_id AND y.day = r.day ORDER BY a.started_at DESC LIMIT 1) tried ON true
   ${rest}`;

const STOPS = stopsOf(
  'stop st JOIN route r ON r.id = st.route_id',
  `WHERE st.route_id = ANY ($1) AND ${STANDS} ORDER BY st.route_id, st.position`,
);

/** Call-outs as stops without a route. */
const CALL_OUTS = stopsOf(
  `(SELECT c.id, c.work_order_id, c.called_at, c.back_at, c.note AS call_out_note, c.called_at AS starts_at, NULL::uuid AS depot_id, c.member_id
      FROM call_out c WHERE c.member_id = $1 AND c.called_at >= $2 AND c.work_order_id IS NOT NULL) st
   CROSS JOIN (SELECT NULL::uuid AS crew_id, NULL::date AS day) r`,
  'ORDER BY st.called_at DESC, st.id',
);

const ROUTES = `
  SELECT r.*, c.name AS crew_name, d.latitude AS depot_latitude, d.longitude AS depot_longitude, d.name AS depot_name,
         (SELECT n.id FROM route n WHERE r.state = 'replaced' AND n.crew_id = r.crew_id AND n.day = r.day AND n.on_call = r.on_call AND n.state = 'live' LIMIT 1) AS replaced_by_id,
         d.name AS start_depot_name, d.latitude AS start_depot_latitude, d.longitude AS start_depot_longitude,
         e.name AS end_depot_name, e.latitude AS end_depot_latitude, e.longitude AS end_depot_longitude, h.starts_at AS shift_starts_at, h.ends_at AS shift_ends_at,
         p.published_at AS told_at, p.published_by AS told_by, p.stops AS told_stops,
         ${CREW_DAY} AS crew_day
    FROM route r JOIN crew c ON c.id = r.crew_id JOIN depot d ON d.id = c.depot_id JOIN depot e ON e.id = coalesce(c.end_depot_id, c.depot_id)
    LEFT JOIN LATERAL (SELECT starts_at, ends_at FROM shift WHERE NOT r.on_call AND crew_id = r.crew_id AND weekday = to_char(r.day, 'dy') AND from_day <= r.day AND (to_day IS NULL OR to_day > r.day)
                        ORDER BY from_day DESC LIMIT 1) h ON true
    LEFT JOIN route_publication p ON p.crew_id = r.crew_id AND p.day = r.day AND p.on_call = r.on_call AND r.state = 'live'`;

export function makeAnswerStore(q: Queryable): AnswerStore {
  const rows = async (text: string, values: unknown[] = []): Promise<Row[]> =>
    (await q.query(text, values)).rows;
  const withStops = async (routes: Row[]): Promise<Row[]> => {
    const stops = await rows(STOPS, [routes.map((route) => route['id'])]);
    return routes.map((route) => ({
      ...route,
      stops: stops.filter((stop) => stop['route_id'] === route['id']),
    }));
  };
  return {
    async routes(day, crewId, midnight) {
      return withStops(
        await rows(
          `${ROUTES} WHERE r.state = 'live' AND (r.day = $1 OR (r.on_call AND r.day = $1::date - 1 AND r.returns_at > $3)) AND ($2::uuid IS NULL OR r.crew_id = $2)
            ORDER BY c.name, r.on_call, r.day, r.id`,
          [day, crewId, midnight],
        ),
      );
    },
    async route(id) {
      const [route] = await withStops(
        await rows(`${ROUTES} WHERE r.id = $1 AND r.state <> 'proposed'`, [id]),
      );
      return route ?? null;
    },
    callOuts: (memberId, since) => rows(CALL_OUTS, [memberId, since]),
    async summary(today) {
      const [line] = await rows(
        `SELECT count(*)::int AS lines, count(t.line_id)::int AS dated, count(*) FILTER (WHERE t.due_on <= $1)::int AS due_now,
                count(*) FILTER (WHERE t.due_on > $1 AND t.due_on <= $1::date + 28)::int AS due_in_four_weeks,
                count(*) FILTER (WHERE t.occlusion >= t.action_limit)::int AS past_action_limit,
                coalesce(sum(t.plug_chance_year), 0)::float8 AS plugs_expected_in_a_year_unvisited,
                percentile_cont(ARRAY[0.1, 0.5, 0.9]) WITHIN GROUP (ORDER BY t.rate_per_month) AS rates,
                percentile_cont(ARRAY[0.1, 0.5, 0.9]) WITHIN GROUP (ORDER BY t.occlusion) AS occlusions
           FROM line l LEFT JOIN trend t ON t.line_id = l.id WHERE l.archived_on IS NULL`,
        [today],
      );
      const orders = await rows(
        'SELECT state, count(*)::int AS n FROM work_order GROUP BY state ORDER BY state',
      );
      const [reviews] = await rows(`SELECT count(*)::int AS n FROM reading_review WHERE verdict = 'open'`);
      return {
        ...line,
        orders: Object.fromEntries(orders.map((row) => [row['state'], row['n']])),
        open_reviews: reviews?.['n'],
      };
    },
    async line(lineId, before) {
      const lines = await rows(
        `SELECT l.id, l.site_id, l.system_id, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm, coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l) AS iron_mg_l,
                l.action_limit, l.plug_limit, l.under_slab, l.stays_wet, l.deposit, l.length_m, l.drains_to, l.drains_to_line_id, l.drains_to_pit_id, l.name, s.address, s.area, s.basement,
                e.id AS epoch_id, e.started_on, e.begins, e.because, l.created_at::date AS booked_on, ${VISITS_SET_FROM} AS ruled_from, p.id IS NOT NULL AS is_discharge, p.id AS discharge_of
           FROM line l JOIN site s ON s.id = l.site_id
           LEFT JOIN LATERAL (SELECT id, started_on, begins, because FROM epoch WHERE line_id = l.id ORDER BY started_on DESC LIMIT 1) e ON true
           LEFT JOIN pit p ON p.discharge_line_id = l.id
          WHERE l.id = $1`,
        [lineId],
      );
      const events = await rows(
        `SELECT * FROM (
           SELECT i.line_id, 'reading' AS kind, i.id, i.observed_at AS at, i.occlusion, i.standard_error, i.bound, i.method, i.phase, i.plug_cause, i.deposit, NULL AS change_cause, r.weight, coalesce(r.verdict = 'confirmed', false) AS confirmed, o.id IS NOT NULL AS called,
                  CASE i.phase WHEN 'after_cleaning' THEN 2 ELSE 0 END AS turn
             FROM inspection i LEFT JOIN reading_review r ON r.inspection_id = i.id ${CALLED}
            WHERE i.line_id = $1 AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND i.observed_at < $2 AND coalesce(r.verdict, 'open') <> 'dismissed'
           UNION ALL
           SELECT c.line_id, 'clean', c.id, c.cleaned_at, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, false, false, 1 FROM clean c WHERE c.line_id = $1 AND ${CLEANED} AND c.cleaned_at < $2
           UNION ALL
           SELECT g.line_id, 'regime', g.id, g.changed_on::timestamptz, NULL, NULL, NULL, NULL, NULL, NULL, NULL, g.cause, NULL, false, false, 3 FROM regime_change g WHERE g.line_id = $1
           UNION ALL
           SELECT g.line_id, 'clean', g.id, ${CLEANED_BY_CHANGE}, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, false, false, 1 FROM regime_change g WHERE g.line_id = $1 AND ${CHANGED_AND_CLEANED} AND ${CLEANED_BY_CHANGE} < $2
         ) e ORDER BY at, turn, id`,
        [lineId, before],
      );
      return lines[0] ? { line: lines[0], events } : null;
    },
  };
}
