import type { Row } from '../../actions/ports.js';
import type { LinesAsked } from '../../actions/reports/lineFilter.js';
import { VISITS_SET_FROM } from '../nightBooks.js';
import type { Queryable } from '../rowStore.js';
import { askedLines } from './askedLines.js';

/**
 * Of the lines asked for that have a trend at most so many, as the night sees them, by id. Which ones depends
 * on their ids alone, so the same question gets the same lines.
 */
export async function sampleLines(
  q: Queryable,
  ask: LinesAsked,
  atMost: number,
): Promise<{ lines: number; rows: Row[] }> {
  const values: unknown[] = [];
  const asked = askedLines(ask, values);
  const { rows } = await q.query(
    `WITH asked AS (SELECT a.id, t.as_of FROM (${asked}) a JOIN trend t ON t.line_id = a.id),
          chosen AS (SELECT id, as_of FROM asked ORDER BY md5(id::text), id LIMIT $${values.push(atMost)})
     SELECT l.id, l.site_id, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm, coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l) AS iron_mg_l,
            l.action_limit, l.plug_limit, l.under_slab, l.stays_wet, l.drains_to_line_id, l.drains_to_pit_id, s.area, s.basement,
            e.id AS epoch_id, e.started_on, e.begins, e.because, l.created_at::date AS booked_on, ${VISITS_SET_FROM} AS ruled_from, p.id IS NOT NULL AS is_discharge, p.id AS discharge_of, l.system_id, t.due_rule, t.interval_days,
            (SELECT count(*)::int FROM line m WHERE m.system_id = l.system_id AND m.archived_on IS NULL) AS system_lines, (SELECT count(*)::int FROM asked) AS lines_asked
       FROM chosen c
       JOIN line l ON l.id = c.id
       JOIN site s ON s.id = l.site_id
       JOIN trend t ON t.line_id = l.id
       LEFT JOIN LATERAL (SELECT id, started_on, begins, because FROM epoch WHERE line_id = l.id AND started_on <= c.as_of ORDER BY started_on DESC LIMIT 1) e ON true
       LEFT JOIN pit p ON p.discharge_line_id = l.id AND p.archived_on IS NULL
      ORDER BY l.id`,
    values,
  );
  return { lines: Number(rows[0]?.['lines_asked'] ?? 0), rows };
}
