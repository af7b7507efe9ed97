import type { ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { asking } from './asking.js';

type ProposalReports = Pick<ReportStore, 'proposalFacts' | 'proposalCounts'>;

/** How far back what happened speaks for a proposal. */
const YEARS_BACK = 2;

export function makeProposalReports(q: Queryable): ProposalReports {
  const over = asking(q);
  return {
    async proposalFacts(asked) {
      return {
        lines: await over(asked, (put) =>
          LINES.replaceAll('$since', `${put(asked.today)}::date - interval '${YEARS_BACK} years'`),
        ),
        pits: await over(asked, (put) =>
          PITS.replaceAll('$since', `${put(asked.today)}::date - interval '${YEARS_BACK} years'`),
        ),
      };
    },
    proposalCounts: (asked) =>
      over(
        asked,
        () => `SELECT p.kind, p.state, count(*)::int AS count, coalesce(sum(p.visits_saved_per_year), 0) AS visits_saved, coalesce(sum(p.price_minor), 0)::float8 AS price_minor
                 FROM proposal p WHERE p.line_id IN (SELECT id FROM asked) OR p.pit_id IN (SELECT t.id FROM pit t JOIN asked a ON a.system_id = t.system_id)
                GROUP BY 1, 2 ORDER BY 1, 2`,
      ),
  };
}

/** Rates of smooth lines are those of PVC of the same kind in the whole base, whatever was asked for. */
const LINES = `
  , smooth AS (
    SELECT l.kind, percentile_cont(0.5) WITHIN GROUP (ORDER BY t.rate_per_month) AS rate, count(*)::int AS lines
      FROM line l JOIN trend t ON t.line_id = l.id WHERE l.archived_on IS NULL AND l.main_material = 'pvc' GROUP BY 1),
  short AS (
    SELECT c.line_id, count(*)::int AS stops, max(c.nozzle_stopped_m) AS furthest_m FROM clean c JOIN asked a ON a.id = c.line_id
     WHERE c.withdrawn_at IS NULL AND c.cleaned_at >= $since AND c.nozzle_stopped_m < 0.8 * a.length_m GROUP BY 1),
  open AS (SELECT line_id, kind FROM proposal WHERE state IN ('drafted', 'offered'))
  SELECT a.id AS line_id, NULL::uuid AS pit_id, a.site_id, a.name, a.address, a.kind, a.material, a.length_m, t.rate_per_month, t.readings_used, s.rate AS smooth_rate, coalesce(s.lines, 0) AS smooth_lines,
         coalesce(h.stops, 0) AS nozzle_stops, h.furthest_m, (SELECT max(k.reach_m) FROM kit_item k WHERE k.kind = 'jetter' AND k.archived_on IS NULL) AS longest_reach_m,
         EXISTS (SELECT FROM access_point p WHERE p.line_id = a.id AND p.kind = 'cleanout' AND p.archived_on IS NULL) AS has_cleanout,
         ARRAY(SELECT l.id FROM line l WHERE l.system_id = a.system_id AND l.archived_on IS NULL) AS system_line_ids,
         EXISTS (SELECT FROM pit p WHERE p.system_id = a.system_id AND p.archived_on IS NULL) AS has_pit,
         ARRAY(SELECT o.kind FROM open o WHERE o.line_id = a.id) AS open_kinds
    FROM asked a JOIN trend t ON t.line_id = a.id LEFT JOIN smooth s ON s.kind = a.kind LEFT JOIN short h ON h.line_id = a.id
   WHERE h.line_id IS NOT NULL OR a.material = 'corrugated_hdpe' OR a.length_m > 0 ORDER BY a.id`;

const PITS = `
  , pits AS (SELECT DISTINCT p.id, p.site_id, p.system_id, p.place, p.discharge_line_id FROM pit p JOIN asked a ON a.system_id = p.system_id WHERE p.archived_on IS NULL),
  open AS (SELECT pit_id, kind FROM proposal WHERE state IN ('drafted', 'offered'))
  SELECT NULL::uuid AS line_id, p.id AS pit_id, p.site_id, coalesce(p.place, 'pit') AS name, s.address, s.basement, t.plug_chance_year,
         (SELECT count(*)::int FROM pump u WHERE u.pit_id = p.id AND u.removed_on IS NULL) AS pumps,
         (SELECT count(*)::int FROM pump u WHERE u.pit_id = p.id AND u.removed_on IS NULL AND u.duty = 'backup') AS backups,
         (SELECT bool_or(u.alarm) FROM pump u WHERE u.pit_id = p.id AND u.removed_on IS NULL) AS alarm,
         (SELECT count(*)::int FROM work_order o WHERE o.site_id = p.site_id AND o.cause = 'call' AND o.created_at >= $since AND o.state <> 'withdrawn') AS calls,
         (SELECT count(*)::int FROM incident i WHERE i.site_id = p.site_id AND i.kind = 'flood_after_visit' AND i.happened_at >= $since) AS floods,
         (SELECT count(DISTINCT i.observed_at::date)::int FROM inspection i JOIN line l ON l.id = i.line_id
           WHERE l.system_id = p.system_id AND i.plugged AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL AND i.observed_at >= $since) AS plugs,
         ARRAY(SELECT o.kind FROM open o WHERE o.pit_id = p.id) AS open_kinds
    FROM pits p JOIN site s ON s.id = p.site_id LEFT JOIN trend t ON t.line_id = p.discharge_line_id ORDER BY p.id`;
