import type { WorkLifeStore } from '../actions/house.js';
import { LOOKED_IN, PLACE_CAUTIONS } from './placeCautions.js';
import type { Queryable } from './rowStore.js';

/** Looks by camera into the line $1, in force. */
const CAMERAS = `
  SELECT i.observed_at AS at FROM inspection i WHERE i.line_id = $1 AND ${LOOKED_IN}`;

/** What stopped hard in the line $1, in its present epoch. */
const HARD_STOPS = `
  SELECT d.met_at AS at, d.stopped_m FROM danger d
   WHERE d.line_id = $1 AND d.kind = 'hard_stop'
     AND d.met_at >= coalesce((SELECT max(e.started_on)::timestamptz FROM epoch e WHERE e.line_id = $1), '-infinity')`;

/** What was tried on the line $1 in its present epoch: cleans, and what is no clean (trace, dig to its last part). */
const TRIED = `
  SELECT t.* FROM (
    SELECT c.cleaned_at AS at, coalesce(c.task, 'jet') AS task, c.flow_proven, c.came_back, c.nozzle_stopped_m,
           (SELECT i.occlusion FROM inspection i
             WHERE i.line_id = c.line_id AND i.phase = 'after_cleaning' AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL
               AND i.observed_at BETWEEN c.cleaned_at - interval '1 hour' AND c.cleaned_at + interval '1 day'
             ORDER BY i.observed_at DESC LIMIT 1) AS residue
      FROM clean c
     WHERE c.line_id = $1 AND c.withdrawn_at IS NULL AND NOT c.inferred
    UNION ALL
    SELECT coalesce(k.done_at, k.updated_at), k.kind, NULL, NULL, NULL, NULL FROM work_order_task k
     WHERE k.line_id = $1 AND k.result = 'done' AND k.kind = 'trace'
  ) t
  WHERE t.at >= coalesce((SELECT max(e.started_on)::timestamptz FROM epoch e WHERE e.line_id = $1), '-infinity')
    AND t.at > coalesce((SELECT max(g.changed_on)::timestamptz FROM regime_change g WHERE g.line_id = $1 AND g.cause = 'partial_replacement'), '-infinity')`;

/** What plugs a line now, and since when: its last looks said plugged, and no clean since proved flow. */
const PLUGGED_NOW = `
  SELECT i.plug_cause AS cause, min(i.observed_at) OVER () AS since FROM inspection i
   WHERE i.line_id = $1 AND i.plugged AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL
     AND NOT EXISTS (SELECT FROM inspection o WHERE o.line_id = $1 AND NOT o.plugged AND o.occlusion IS NOT NULL
                        AND o.replaced_at IS NULL AND o.withdrawn_at IS NULL AND o.observed_at > i.observed_at)
     AND NOT EXISTS (SELECT FROM clean c WHERE c.line_id = $1 AND c.withdrawn_at IS NULL AND c.cleaned_at >= i.observed_at
                        AND (c.flow_proven = 'yes' OR (c.flow_proven IS NULL AND c.work_order_id IS NULL)))
     AND i.observed_at >= coalesce((SELECT max(e.started_on)::timestamptz FROM epoch e WHERE e.line_id = $1), '-infinity')
   ORDER BY i.observed_at DESC LIMIT 1`;

/** Orders that follow one, directly and on down the chain, not begun. */
const CHAIN = `
  WITH RECURSIVE chain AS (
    SELECT id FROM work_order WHERE follows_id = $1
    UNION SELECT o.id FROM work_order o JOIN chain c ON o.follows_id = c.id
  )
  SELECT o.* FROM work_order o JOIN chain USING (id) WHERE o.state IN ('wanted', 'placed') ORDER BY o.number`;

/** Pits without a date or due before a day that no open task tests, with their last look and what is known of ochre. */
const PITS_TO_DATE = `
  SELECT p.id, p.site_id, p.last_tested_on, p.due_on, p.created_at, t.raw AS test, t.observed_at AS tested_at,
         EXISTS (SELECT FROM work_order_task k WHERE k.pit_id = p.id AND k.kind = 'test_pump' AND k.open) AS ordered,
         coalesce((SELECT max(l.ferrous_iron_mg_l) FROM line l WHERE l.system_id = p.system_id), s.ferrous_iron_mg_l) AS iron,
         (SELECT array_agg(DISTINCT d.deposit) FROM line l
            JOIN LATERAL (SELECT i.deposit FROM inspection i WHERE i.line_id = l.id AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL
                           ORDER BY i.observed_at DESC LIMIT 3) d ON true
           WHERE l.system_id = p.system_id) AS deposits
    FROM pit p JOIN site s ON s.id = p.site_id AND s.archived_on IS NULL
    LEFT JOIN LATERAL (SELECT i.raw, i.observed_at FROM inspection i WHERE i.pit_id = p.id AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL
                         ORDER BY i.observed_at DESC LIMIT 1) t ON true
   WHERE p.archived_on IS NULL AND (p.due_on IS NULL OR p.due_on <= $1)
   ORDER BY p.id`;

/** An order's planned litres stand once, at the first record of where they went. */
const WATER_LOG = `
  SELECT w.*, o.number, s.address, s.town, p.receiver AS planned_receiver, p.place AS planned_place, based.name AS depot,
         CASE WHEN w.receiver <> 'none' AND NOT again.so THEN nullif(o.water_l, 0) END AS planned_water_l,
         CASE WHEN w.receiver <> 'none' AND NOT again.so THEN nullif(o.sludge_l, 0) END AS planned_sludge_l
    FROM water_record w
    JOIN work_order o ON o.id = w.work_order_id
    JOIN site s ON s.id = o.site_id
    LEFT JOIN LATERAL (SELECT receiver, place FROM water_record q WHERE q.work_order_id = w.work_order_id AND q.phase = 'planned' ORDER BY q.at DESC LIMIT 1) p ON true
    LEFT JOIN LATERAL (SELECT d.name FROM attempt a JOIN crew c ON c.id = a.crew_id JOIN depot d ON d.id = c.depot_id WHERE a.work_order_id = w.work_order_id ORDER BY a.started_at DESC, a.id LIMIT 1) based ON true
    JOIN LATERAL (SELECT EXISTS (SELECT FROM water_record q WHERE q.work_order_id = w.work_order_id AND q.phase = 'recorded' AND (q.at, q.id) < (w.at, w.id)) AS so) again ON true
   WHERE w.phase = 'recorded' AND w.at >= $1 AND w.at < $2
   ORDER BY w.at, w.id`;

/** Care terms in force on a day, with the early visits their site took or was given in the year before. */
const TERMS_IN_FORCE = `
  SELECT c.*, s.early_visits_ok,
         (SELECT count(*) FROM work_order o WHERE o.site_id = c.site_id AND o.state <> 'withdrawn'
            AND o.because_of @> '[{"code": "early_visit"}]' AND coalesce(o.wanted_by, o.created_at::date) > $1::date - 365)::int AS early_taken
    FROM care_terms c JOIN site s ON s.id = c.site_id
   WHERE c.from_day <= $1 AND (c.to_day IS NULL OR c.to_day >= $1)
   ORDER BY c.id`;

const CLEAN_SINCE = `
  SELECT l.id AS line_id, c.day::text AS day,
         coalesce(least((SELECT max(started_on) FROM epoch WHERE line_id = l.id),
                        (SELECT min(observed_at)::date FROM inspection WHERE line_id = l.id AND replaced_at IS NULL AND withdrawn_at IS NULL)),
                  l.created_at::date)::text AS booked_on
    FROM line l
    LEFT JOIN (SELECT line_id, max(day) AS day FROM (
                 SELECT line_id, cleaned_at::date AS day FROM clean WHERE line_id = ANY ($1) AND withdrawn_at IS NULL
                 UNION ALL SELECT line_id, started_on FROM epoch WHERE line_id = ANY ($1) AND begins = 'clean'
               ) b GROUP BY line_id) c ON c.line_id = l.id
   WHERE l.id = ANY ($1)`;

/** Where the water of the last visit that flushed a system was planned to go. */
const LAST_FLUSH_PLAN = `
  SELECT w.receiver, w.place, w.permit_ref, w.sludge_to, o.number
    FROM water_record w JOIN work_order o ON o.id = w.work_order_id
   WHERE w.phase = 'planned' AND NOT w.assumed AND o.state <> 'withdrawn'
     AND EXISTS (SELECT FROM work_order_task k LEFT JOIN line l ON l.id = k.line_id LEFT JOIN pit p ON p.id = k.pit_id
                  WHERE k.work_order_id = o.id AND k.kind = ANY ($2) AND coalesce(l.system_id, p.system_id) = $1)
     AND o.site_id = (SELECT site_id FROM system WHERE id = $1)
   ORDER BY w.at DESC, w.id DESC LIMIT 1`;

/** Pits whose last word on a temporary pump is that it is in. */
const TEMPORARY_PUMPS = `
  SELECT p.id, p.site_id, p.discharge_line_id, last.seen_at, last.order_id, last.price_basis,
         EXISTS (SELECT FROM work_order_task d WHERE d.line_id = p.discharge_line_id AND d.kind = 'dig_and_replace' AND d.open) AS dug
    FROM pit p
    JOIN LATERAL (
      SELECT coalesce(o.done_at, k.updated_at) AS seen_at, o.id AS order_id, o.price_basis,
             k.kind = 'test_pump' OR k.plan ? 'remove' AS is_out
        FROM work_order_task k JOIN work_order o ON o.id = k.work_order_id
       WHERE k.pit_id = p.id AND k.result = 'done' AND (k.kind = 'temporary_pump' OR k.plan->>'temporaryPump' = 'remove')
       ORDER BY 1 DESC, k.position DESC LIMIT 1) last ON NOT last.is_out
   WHERE p.archived_on IS NULL AND ($1::uuid IS NULL OR p.id = $1)
   ORDER BY p.id`;

/** Discharge plans of orders ahead or under way that are about a system. */
const plansWhere = (condition: string): string => `
  SELECT c.id, c.met_at, c.met_by, c.facts FROM precondition c JOIN work_order o ON o.id = c.work_order_id
   WHERE c.kind = 'discharge_plan' AND ${condition} AND o.state IN ('wanted', 'placed', 'under_way')
     AND EXISTS (SELECT FROM work_order_task k LEFT JOIN line l ON l.id = k.line_id LEFT JOIN pit p ON p.id = k.pit_id
                  WHERE k.work_order_id = o.id AND coalesce(l.system_id, p.system_id) = $1)
   ORDER BY c.id`;

export function makeWorkLifeStore(q: Queryable): WorkLifeStore {
  const rows = async (text: string, values: unknown[]) => (await q.query(text, values)).rows;
  return {
    lineHistory: async (lineId) => ({
      tried: await rows(TRIED, [lineId]),
      hardStops: await rows(HARD_STOPS, [lineId]),
      cameras: await rows(CAMERAS, [lineId]),
    }),
    async pluggedNow(lineId) {
      const [row] = await rows(PLUGGED_NOW, [lineId]);
      return row ?? null;
    },
    chainAfter: (orderId) => rows(CHAIN, [orderId]),
    areas: async () =>
      (await rows('SELECT DISTINCT area FROM site ORDER BY area', [])).map(({ area }) => String(area)),
    async lastRain(area, before) {
      const [row] = await rows(
        'SELECT max(ended_at) AS at FROM rain WHERE (area IS NULL OR lower(btrim(area)) = lower(btrim($1))) AND ended_at <= $2 AND withdrawn_at IS NULL',
        [area, before],
      );
      return row?.['at'] == null ? null : String(row['at']);
    },
    termsInForce: (day) => rows(TERMS_IN_FORCE, [day]),
    cleanSince: (lineIds) => rows(CLEAN_SINCE, [lineIds]),
    async lastFlushPlan(systemId, tasks) {
      const [row] = await rows(LAST_FLUSH_PLAN, [systemId, tasks]);
      return row ?? null;
    },
    temporaryPumps: (pitId) => rows(TEMPORARY_PUMPS, [pitId ?? null]),
    async cautionPlace(orderId) {
      const [row] = await rows(
        `SELECT ${PLACE_CAUTIONS},
                (SELECT coalesce(jsonb_agg(jsonb_build_object('kind', k.kind) ORDER BY k.position), '[]') FROM work_order_task k WHERE k.work_order_id = o.id) AS tasks
           FROM work_order o WHERE o.id = $1`,
        [orderId],
      );
      if (!row) throw new RangeError(`no order ${orderId}`);
      return row;
    },
    assumedPlans: (systemId) =>
      rows(plansWhere(`c.state = 'met' AND c.facts->'assumed' = 'true'`), [systemId]),
    questionedPlans: (systemId) => rows(plansWhere(`c.state = 'open' AND c.facts ? 'before'`), [systemId]),
    openConsents: () =>
      rows(
        `SELECT p.*, o.number FROM precondition p JOIN work_order o ON o.id = p.work_order_id
          WHERE p.kind = 'consent' AND p.state = 'open' AND o.state IN ('wanted', 'placed') ORDER BY p.id`,
        [],
      ),
    waterLog: (from, to) => rows(WATER_LOG, [from, to]),
    expiringTickets: () =>
      rows(
        `SELECT t.*, CASE WHEN b.begun THEN t.last_day ELSE least(t.last_day, t.begin_by) END AS good_to, r.notice, r.notice_unit, r.call_day_counts, r.life, r.life_unit, r.life_from, r.life_counts_first, r.start_within_days, r.start_within_unit, r.holidays,
                o.site_id, o.state, o.number
           FROM locate_ticket t JOIN locate_rule r ON r.id = t.rule_id JOIN work_order o ON o.id = t.work_order_id
           JOIN LATERAL (SELECT EXISTS (SELECT FROM attempt a WHERE a.work_order_id = t.work_order_id AND a.started_at >= t.called_at) AS begun) b ON true
          WHERE t.replaced_by_id IS NULL AND (t.last_day IS NOT NULL OR (t.begin_by IS NOT NULL AND NOT b.begun))
            AND (o.state IN ('wanted', 'placed', 'under_way')
                 OR EXISTS (SELECT FROM precondition p JOIN work_order x ON x.id = p.work_order_id
                             WHERE p.kind = 'locate_ticket' AND p.facts->>'ticketId' = t.id::text AND x.state IN ('wanted', 'placed', 'under_way')))
          ORDER BY t.id`,
        [],
      ),
    pitsToDate: (dueBefore) => rows(PITS_TO_DATE, [dueBefore]),
    async setPitDates(dates) {
      const { rowCount } = await q.query(
        `UPDATE pit p SET due_on = r.due_on FROM jsonb_populate_recordset(NULL::public.pit, $1::jsonb) r WHERE p.id = r.id AND p.due_on IS DISTINCT FROM r.due_on`,
        [JSON.stringify(dates)],
      );
      return rowCount ?? 0;
    },
  };
}
