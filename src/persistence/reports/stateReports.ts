import type { Grouping, ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { asking, type Put } from './asking.js';
import { numberedEvents } from './lineEvents.js';
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
 * today or the day it was given up, since a plug calls; of the action limit only until its last reading. Lines without a trend have no limits.
 */
function stretchSql(
  { limit, by, ironLimit, asked, zone }: Parameters<ReportStore['stretches']>[0],
  put: Put,
): string {
  // Once, not row by row.
  const today =
    limit === 'plug' ? `(SELECT (${put(asked.today)}::date)::timestamp AT TIME ZONE ${put(zone)})` : '';
  const free = limit === 'plug' ? `least(ended, ${today}, s.archived_on::timestamptz)` : 'looked';
  const shut = `(i.plugged AND coalesce(i.plug_cause, 'unknown') IN ('deposit', 'unknown'))`;
  const events = numberedEvents({
    seen: [
      `i.phase <> 'after_cleaning' AND (${shut} OR (i.bound <> 'at_most' AND i.occlusion >= s.${limit}_limit)) AS past`,
      `i.phase <> 'after_cleaning' AND (${shut} OR i.occlusion IS NOT NULL) AS looked`,
    ],
    clean: 'false, false',
    newPipe: 'false, false',
  });
  const ended =
    limit === 'plug'
      ? ', lead(min(at) FILTER (WHERE begins)) OVER (PARTITION BY n ORDER BY stretch) AS ended'
      : '';
  return `, ${events},
    stretch AS (
      SELECT n, stretch, min(at) FILTER (WHERE begins) AS started, min(at) FILTER (WHERE past) AS passed, max(at) FILTER (WHERE looked) AS looked${ended}
        FROM numbered GROUP BY n, stretch),
    watched AS (
      SELECT n, passed IS NOT NULL AS event, extract(epoch FROM coalesce(passed, ${free}) - started)::float8 / 86400 AS days FROM stretch JOIN short s USING (n) WHERE stretch > 0),
    counted AS (
      SELECT n, event, greatest(1, floor(days + 0.5))::int AS days FROM watched WHERE days >= 0.5)
    SELECT ${by === 'iron' ? ironClass(put(ironLimit)) : GROUP_COLUMN[by]} AS name, w.days, w.event, count(*)::int AS count
      FROM counted w JOIN short s ON s.n = w.n JOIN asked a ON a.id = s.id WHERE s.${limit}_limit IS NOT NULL GROUP BY 1, 2, 3 ORDER BY 1, 2, 3`;
}

const ironClass = (limit: string): string =>
  `CASE WHEN a.iron_mg_l IS NULL THEN 'iron unknown' WHEN a.iron_mg_l >= ${limit}::float8 THEN 'iron from ' || ${limit}::float8 || ' mg/L'
        ELSE 'iron below ' || ${limit}::float8 || ' mg/L' END`;

/** A day of the zone begins up to a day before or after that of UTC; what lies nearer is looked at exactly. */
const DAYS_AROUND = 3;

/**
 * Where nothing was measured after a clean, regrowth counts from the mean that the same crew's task leaves, else from
 * all. A look is a pair of its moment in seconds and what it found, so that the least and greatest are first and last.
 */
function cleanSql(from: string, to: string, zone: string): string {
  const events = numberedEvents({
    seen: [
      'i.phase',
      'i.occlusion',
      'NULL::uuid AS crew_id',
      'NULL::text AS task',
      'NULL::text AS flow_proven',
    ],
    clean: 'NULL, NULL, c.crew_id, c.task, c.flow_proven',
    newPipe: `NULL, NULL, NULL, 'new_pipe', NULL`,
    since: `${from}::date - ${DAYS_AROUND}`,
  });
  const look = 'ARRAY[extract(epoch FROM at)::float8, occlusion]';
  return `, ${events},
    looks AS (
      SELECT n, stretch, (min(${look}) FILTER (WHERE phase = 'after_cleaning'))[2] AS after, min(${look}) FILTER (WHERE phase <> 'after_cleaning') AS next,
             max(${look}) FILTER (WHERE phase = 'before_cleaning') AS last_before
        FROM numbered WHERE NOT begins AND occlusion IS NOT NULL GROUP BY n, stretch),
    begun AS (
      SELECT n, stretch, extract(epoch FROM at)::float8 AS started, crew_id, task, flow_proven FROM numbered
       WHERE begins AND task IS DISTINCT FROM 'new_pipe' AND (at AT TIME ZONE ${zone})::date BETWEEN ${from}::date AND ${to}::date),
    counted AS (
      SELECT b.n, b.crew_id, b.task, b.flow_proven, CASE WHEN b.started - p.last_before[1] < 86400 THEN p.last_before[2] END AS before, l.after, l.next[2] AS next,
             coalesce(l.after, avg(l.after) OVER (PARTITION BY b.crew_id, b.task), avg(l.after) OVER (), 0) AS left_behind, (l.next[1] - b.started) / 86400 / 30.4375 AS months
        FROM begun b LEFT JOIN looks l ON l.n = b.n AND l.stretch = b.stretch LEFT JOIN looks p ON p.n = b.n AND p.stretch = b.stretch - 1)
    SELECT r.id AS crew_id, r.name AS crew, c.task, count(*)::int AS cleans, count(DISTINCT c.n)::int AS lines,
           count(c.before)::int AS measured_before, avg(c.before) AS before, count(c.after)::int AS measured_after, avg(c.after) AS after,
           count(*) FILTER (WHERE c.months > 0.2)::int AS regrown,
           percentile_cont(0.5) WITHIN GROUP (ORDER BY greatest(0, c.next - c.left_behind) / c.months) FILTER (WHERE c.months > 0.2) AS regrowth_per_month,
           count(*) FILTER (WHERE c.flow_proven = 'yes')::int AS flow_yes, count(*) FILTER (WHERE c.flow_proven = 'no')::int AS flow_no
      FROM counted c LEFT JOIN crew r ON r.id = c.crew_id GROUP BY r.id, r.name, c.task ORDER BY count(*) DESC, r.name, c.task`;
}

function plugSql(from: string, to: string, zone: string): string {
  return `, found AS (
      SELECT DISTINCT ON (i.line_id, (i.observed_at AT TIME ZONE ${zone})::date) i.id, i.line_id, (i.observed_at AT TIME ZONE ${zone})::date AS found_on, coalesce(i.plug_cause, 'unknown') AS cause, coalesce(r.verdict = 'open', false) AS doubted
        FROM inspection i JOIN asked a ON a.id = i.line_id LEFT JOIN reading_review r ON r.inspection_id = i.id
       WHERE i.plugged AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND coalesce(r.verdict, 'open') <> 'dismissed'
         AND coalesce(i.plug_cause, 'unknown') IN ('deposit', 'unknown') AND (i.observed_at AT TIME ZONE ${zone})::date BETWEEN ${from}::date AND ${to}::date
       ORDER BY i.line_id, (i.observed_at AT TIME ZONE ${zone})::date, i.observed_at, i.id)
    SELECT f.id AS inspection_id, f.line_id, a.name, a.kind, a.site_id, a.address, f.found_on, f.cause, f.doubted, h.as_of, h.due_on, h.due_rule, h.action_chances, h.readings_used
      FROM found f JOIN asked a ON a.id = f.line_id
      LEFT JOIN LATERAL (SELECT as_of, due_on, due_rule, action_chances, readings_used FROM trend_history WHERE line_id = f.line_id AND as_of <= f.found_on ORDER BY as_of DESC LIMIT 1) h ON true
     ORDER BY f.found_on DESC, f.id`;
}
