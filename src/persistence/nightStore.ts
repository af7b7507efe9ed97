import type { NightStore } from '../actions/night/nightStore.js';
import type { Queryable } from './rowStore.js';

/** Lines in service with what they stand on, by id: the estimator's sums go in this order. */
const LINES = `
  SELECT l.id, l.site_id, l.system_id, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm,
         coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l) AS iron_mg_l, l.action_limit, l.plug_limit, l.under_slab,
         l.stays_wet, l.deposit, l.length_m, l.drains_to, l.drains_to_line_id, l.drains_to_pit_id,
         s.area, s.basement, e.id AS epoch_id, e.started_on, e.begins,
         p.id IS NOT NULL AS is_discharge, p.id AS discharge_of
    FROM line l
    JOIN site s ON s.id = l.site_id AND s.archived_on IS NULL
    LEFT JOIN LATERAL (SELECT id, started_on, begins FROM epoch WHERE line_id = l.id AND started_on <= $1 ORDER BY started_on DESC LIMIT 1) e ON true
    LEFT JOIN pit p ON p.discharge_line_id = l.id AND p.archived_on IS NULL
   WHERE l.archived_on IS NULL
   ORDER BY l.id`;

/** Everything that happened to them up to the end of the day, in force and not dismissed. */
const EVENTS = `
  SELECT * FROM (
    SELECT i.line_id, 'reading' AS kind, i.id, i.observed_at AS at, i.occlusion, i.standard_error, i.bound, i.method, i.phase, i.plug_cause, i.deposit,
           CASE i.phase WHEN 'after_cleaning' THEN 2 ELSE 0 END AS turn
      FROM inspection i LEFT JOIN reading_review r ON r.inspection_id = i.id
     WHERE i.line_id IS NOT NULL AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND i.observed_at < $1 AND coalesce(r.verdict, 'open') <> 'dismissed'
    UNION ALL
    SELECT c.line_id, 'clean', c.id, c.cleaned_at, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 1
      FROM clean c WHERE c.line_id IS NOT NULL AND c.withdrawn_at IS NULL AND c.cleaned_at < $1
    UNION ALL
    SELECT g.line_id, 'regime', g.id, g.changed_on::timestamptz, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 3
      FROM regime_change g WHERE g.changed_on::timestamptz < $1
  ) e ORDER BY line_id, at, turn, id`;

export function makeNightStore(q: Queryable): NightStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  return {
    lines: (day) => rows(LINES, [day]),
    events: (before) => rows(EVENTS, [before]),
    openTasks: () =>
      rows(`SELECT k.line_id, k.pit_id, k.work_order_id, o.state, o.cause, o.wanted_by, o.site_id
              FROM work_order_task k JOIN work_order o ON o.id = k.work_order_id WHERE k.open`),
    async upsertTrends(trends) {
      if (trends.length === 0) return;
      const columns = Object.keys(trends[0] ?? {});
      const set = columns.filter((c) => c !== 'line_id').map((c) => `${c} = excluded.${c}`);
      for (let at = 0; at < trends.length; at += 2_000) {
        await q.query(
          `INSERT INTO trend (${columns}) SELECT ${columns.map((c) => `r.${c}`)} FROM jsonb_populate_recordset(NULL::public.trend, $1::jsonb) r
           ON CONFLICT (line_id) DO UPDATE SET ${set}, updated_at = now()`,
          [JSON.stringify(trends.slice(at, at + 2_000))],
        );
      }
    },
    async keepHistory(day) {
      await q.query('SELECT make_trend_history_partition($1)', [day]);
      const { rowCount } = await q.query(
        `INSERT INTO trend_history (line_id, as_of, fit_id, engine_version, evidence_hash, because, occlusion, occlusion_sd, rate_per_month,
                action_limit, plug_limit, action_q10_on, action_q50_on, action_q90_on, plug_q50_on, readings_used, due_on, due_rule)
         SELECT t.line_id, t.as_of, t.fit_id, t.engine_version, t.evidence_hash,
                CASE WHEN h.line_id IS NULL OR h.evidence_hash <> t.evidence_hash THEN 'evidence' WHEN h.due_on IS DISTINCT FROM t.due_on THEN 'moved' ELSE 'month' END,
                t.occlusion, t.occlusion_sd, t.rate_per_month, t.action_limit, t.plug_limit, t.action_q10_on, t.action_q50_on, t.action_q90_on,
                t.plug_q50_on, t.readings_used, t.due_on, t.due_rule
           FROM trend t
           LEFT JOIN LATERAL (SELECT * FROM trend_history h WHERE h.line_id = t.line_id AND h.as_of < $1 ORDER BY h.as_of DESC LIMIT 1) h ON true
          WHERE t.as_of = $1 AND (h.line_id IS NULL OR h.evidence_hash <> t.evidence_hash OR h.due_on IS DISTINCT FROM t.due_on OR date_trunc('month', h.as_of) <> date_trunc('month', $1::date))
         ON CONFLICT (line_id, as_of) DO NOTHING`,
        [day],
      );
      return rowCount ?? 0;
    },
    async openReviews(reviews) {
      for (const review of reviews) {
        await q.query(
          `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion) VALUES ($1, $2, $3, $4)
           ON CONFLICT (inspection_id) DO UPDATE SET weight = excluded.weight WHERE reading_review.verdict = 'open' AND reading_review.weight <> excluded.weight`,
          [review.inspectionId, review.lineId, review.weight, review.suspicion],
        );
      }
    },
    async beat(runId, holder, leaseSeconds) {
      const { rowCount } = await q.query(
        `UPDATE nightly_run SET heartbeat_at = now(), lease_until = now() + make_interval(secs => $3) WHERE id = $1 AND holder = $2 AND state = 'running'`,
        [runId, holder, leaseSeconds],
      );
      return rowCount === 1;
    },
    async runOf(day) {
      const [run] = await rows(
        `SELECT *, coalesce(lease_until < now(), true) AS lapsed FROM nightly_run WHERE business_day = $1 FOR UPDATE`,
        [day],
      );
      return run ?? null;
    },
    async running() {
      const [run] = await rows(
        `SELECT *, coalesce(lease_until < now(), true) AS lapsed FROM nightly_run WHERE state = 'running' FOR UPDATE`,
      );
      return run ?? null;
    },
    lapsedRuns: () =>
      rows(`SELECT * FROM nightly_run WHERE state = 'running' AND coalesce(lease_until < now(), true)`),
    async event(id, kind, subjectId, onceKey, facts) {
      await q.query(
        'INSERT INTO event (id, kind, subject_id, once_key, facts) VALUES ($1, $2, $3, $4, $5) ON CONFLICT (once_key) DO NOTHING',
        [id, kind, subjectId, onceKey, JSON.stringify(facts)],
      );
    },
  };
}
