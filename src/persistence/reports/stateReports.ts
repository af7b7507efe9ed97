import type { Grouping, ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { asking, type Put } from './asking.js';
import { NUMBERED_EVENTS } from './lineEvents.js';
import { FACT_COUNTS } from './unknownFacts.js';

const GROUP_COLUMN: Record<Exclude<Grouping, 'iron'>, string> = {
  kind: 'a.kind',
  material: 'a.material',
  area: 'a.area',
  builder: `coalesce(a.builder, 'unknown')`,
  basement: 'a.basement',
};

type StateReports = Pick<
  ReportStore,
  'count' | 'trends' | 'stretches' | 'cleanResults' | 'plugs' | 'openReviews' | 'unknownFacts'
>;

export function makeStateReports(q: Queryable): StateReports {
  const over = asking(q);
  return {
    async count(asked) {
      const [row] = await over(asked, () => 'SELECT count(*)::int AS n FROM asked');
      return Number(row?.['n']);
    },
    trends: (asked) =>
      over(
        asked,
        () => `SELECT a.*, t.as_of, t.occlusion, t.occlusion_sd, t.rate_per_month, t.action_limit, t.plug_limit, t.due_on, t.due_rule, t.interval_days, t.readings_used,
                      t.components->'ahead' AS ahead, t.components->'action' AS action_chances, t.components->'plug' AS plug_chances
                 FROM asked a JOIN trend t ON t.line_id = a.id ORDER BY a.id`,
      ),
    stretches: (ask) => over(ask.asked, (put) => stretchSql(ask, put)),
    cleanResults: (asked, period, zone) =>
      over(asked, (put) => cleanSql(put(period.fromDay), put(period.toDay), put(zone))),
    plugs: (asked, period, zone) =>
      over(asked, (put) => plugSql(put(period.fromDay), put(period.toDay), put(zone))),
    openReviews: (asked) =>
      over(
        asked,
        () => `SELECT r.inspection_id, r.line_id, a.name, a.kind, a.site_id, a.address, i.observed_at, i.method, i.phase, i.occlusion, i.author, c.name AS crew, r.weight, r.suspicion
                 FROM reading_review r JOIN asked a ON a.id = r.line_id JOIN inspection i ON i.id = r.inspection_id LEFT JOIN crew c ON c.id = i.crew_id
                WHERE r.verdict = 'open' AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL
                ORDER BY r.weight, r.inspection_id`,
      ),
    async unknownFacts(asked) {
      const counted = await Promise.all(FACT_COUNTS.map(({ sql }) => over(asked, () => sql)));
      return FACT_COUNTS.flatMap(({ rowsOf }, i) => rowsOf(counted[i]?.[0] ?? {}));
    },
  };
}

/**
 * A crossing counts from the visit that found it. Of the plug limit a line is known to be free until its next clean or
 * today, since a plug calls; of the action limit only until its last reading.
 */
function stretchSql(
  { limit, by, ironLimit, asked, zone }: Parameters<ReportStore['stretches']>[0],
  put: Put,
): string {
  const today = limit === 'plug' ? `(${put(asked.today)}::date)::timestamp AT TIME ZONE ${put(zone)}` : '';
  const free = limit === 'plug' ? `least(coalesce(ended, ${today}), ${today})` : 'looked';
  const past = `n.fouled_shut OR (n.bound <> 'at_most' AND n.occlusion >= t.${limit}_limit)`;
  return `, ${NUMBERED_EVENTS},
    stretch AS (
      SELECT n.line_id, n.stretch, min(n.at) FILTER (WHERE n.begins) AS started,
             min(n.at) FILTER (WHERE NOT n.begins AND n.phase <> 'after_cleaning' AND (${past})) AS passed,
             max(n.at) FILTER (WHERE NOT n.begins AND n.phase <> 'after_cleaning' AND (n.occlusion IS NOT NULL OR n.fouled_shut)) AS looked,
             lead(min(n.at) FILTER (WHERE n.begins)) OVER (PARTITION BY n.line_id ORDER BY n.stretch) AS ended
        FROM numbered n JOIN trend t ON t.line_id = n.line_id
       GROUP BY n.line_id, n.stretch),
    watched AS (
      SELECT line_id, passed IS NOT NULL AS event, extract(epoch FROM coalesce(passed, ${free}) - started) / 86400 AS days
        FROM stretch WHERE stretch > 0)
    SELECT ${by === 'iron' ? ironClass(put(ironLimit)) : GROUP_COLUMN[by]} AS name, greatest(1, round(w.days))::int AS days, w.event, count(*)::int AS count
      FROM watched w JOIN asked a ON a.id = w.line_id WHERE w.days >= 0.5 GROUP BY 1, 2, 3 ORDER BY 1, 2, 3`;
}

const ironClass = (limit: string): string =>
  `CASE WHEN a.iron_mg_l IS NULL THEN 'iron unknown' WHEN a.iron_mg_l >= ${limit}::float8 THEN 'iron from ' || ${limit}::float8 || ' mg/L'
        ELSE 'iron below ' || ${limit}::float8 || ' mg/L' END`;

/** Where nothing was measured after a clean, regrowth counts from the mean that the same crew's task leaves, else from all. */
function cleanSql(from: string, to: string, zone: string): string {
  return `, ${NUMBERED_EVENTS},
    stretch AS (
      SELECT n.line_id, n.stretch, min(n.at) FILTER (WHERE n.begins) AS started,
             (array_agg(n.crew_id) FILTER (WHERE n.begins))[1] AS crew_id, (array_agg(n.task) FILTER (WHERE n.begins))[1] AS task,
             (array_agg(n.flow_proven) FILTER (WHERE n.begins))[1] AS flow_proven,
             (array_agg(n.occlusion ORDER BY n.at) FILTER (WHERE n.phase = 'after_cleaning' AND n.occlusion IS NOT NULL))[1] AS after,
             (array_agg(n.occlusion ORDER BY n.at, n.id) FILTER (WHERE n.phase <> 'after_cleaning' AND n.occlusion IS NOT NULL))[1] AS next,
             min(n.at) FILTER (WHERE n.phase <> 'after_cleaning' AND n.occlusion IS NOT NULL) AS next_at,
             (array_agg(n.occlusion ORDER BY n.at DESC, n.id DESC) FILTER (WHERE n.phase = 'before_cleaning' AND n.occlusion IS NOT NULL))[1] AS last_before,
             max(n.at) FILTER (WHERE n.phase = 'before_cleaning' AND n.occlusion IS NOT NULL) AS last_before_at
        FROM numbered n GROUP BY n.line_id, n.stretch),
    clean_of AS (
      SELECT s.*, CASE WHEN s.started - lag(s.last_before_at) OVER line < interval '1 day' THEN lag(s.last_before) OVER line END AS before
        FROM stretch s WINDOW line AS (PARTITION BY s.line_id ORDER BY s.stretch)),
    counted AS (
      SELECT c.*, coalesce(c.after, avg(c.after) OVER (PARTITION BY c.crew_id, c.task), avg(c.after) OVER (), 0) AS left_behind,
             extract(epoch FROM c.next_at - c.started) / 86400 / 30.4375 AS months
        FROM clean_of c
       WHERE c.stretch > 0 AND c.task IS DISTINCT FROM 'new_pipe' AND (c.started AT TIME ZONE ${zone})::date BETWEEN ${from}::date AND ${to}::date)
    SELECT r.id AS crew_id, r.name AS crew, c.task, count(*)::int AS cleans, count(DISTINCT c.line_id)::int AS lines,
           count(c.before)::int AS measured_before, avg(c.before) AS before, count(c.after)::int AS measured_after, avg(c.after) AS after,
           count(*) FILTER (WHERE c.months > 0.2)::int AS regrown,
           percentile_cont(0.5) WITHIN GROUP (ORDER BY greatest(0, c.next - c.left_behind) / c.months) FILTER (WHERE c.months > 0.2) AS regrowth_per_month,
           count(*) FILTER (WHERE c.flow_proven = 'yes')::int AS flow_yes, count(*) FILTER (WHERE c.flow_proven = 'no')::int AS flow_no
      FROM counted c LEFT JOIN crew r ON r.id = c.crew_id GROUP BY r.id, r.name, c.task ORDER BY count(*) DESC, r.name, c.task`;
}

function plugSql(from: string, to: string, zone: string): string {
  return `, found AS (
      SELECT DISTINCT ON (i.line_id, (i.observed_at AT TIME ZONE ${zone})::date) i.id, i.line_id, (i.observed_at AT TIME ZONE ${zone})::date AS found_on, coalesce(i.plug_cause, 'unknown') AS cause
        FROM inspection i JOIN asked a ON a.id = i.line_id LEFT JOIN reading_review r ON r.inspection_id = i.id
       WHERE i.plugged AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND coalesce(r.verdict, 'open') <> 'dismissed'
         AND coalesce(i.plug_cause, 'unknown') IN ('deposit', 'unknown') AND (i.observed_at AT TIME ZONE ${zone})::date BETWEEN ${from}::date AND ${to}::date
       ORDER BY i.line_id, (i.observed_at AT TIME ZONE ${zone})::date, i.observed_at, i.id)
    SELECT f.id AS inspection_id, f.line_id, a.name, a.kind, a.site_id, a.address, f.found_on, f.cause, h.as_of, h.due_on, h.action_chances, h.readings_used
      FROM found f JOIN asked a ON a.id = f.line_id
      LEFT JOIN LATERAL (SELECT as_of, due_on, action_chances, readings_used FROM trend_history WHERE line_id = f.line_id AND as_of <= f.found_on ORDER BY as_of DESC LIMIT 1) h ON true
     ORDER BY f.found_on DESC, f.id`;
}
