import type { Period } from '../../actions/reports/lineFilter.js';
import type { ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { asking, type Put } from './asking.js';

type MoneyReports = Pick<ReportStore, 'careTermLines' | 'earnings' | 'returnWork' | 'doneWork'>;

export function makeMoneyReports(q: Queryable): MoneyReports {
  const over = asking(q);
  return {
    careTermLines: (asked) => over(asked, (put) => careTermSql(put(asked.today))),
    earnings: ({ asked, period, zone, by, visitMinor }) =>
      over(asked, (put) => earningSql(visitsSql(period, zone, put), by, put(visitMinor))),
    returnWork: (asked, period, zone) => over(asked, (put) => returnSql(visitsSql(period, zone, put))),
    doneWork: (asked, period, zone) => over(asked, (put) => doneSql(visitsSql(period, zone, put))),
  };
}

/** Care terms in force on a day with the interval they come to, each against what is believed of its line. */
function careTermSql(today: string): string {
  return `, terms AS (
      SELECT DISTINCT ON (a.id) a.id AS line_id, c.id AS care_terms_id, c.price_minor, coalesce(c.interval_days, round(365.25 / c.visits_per_year)::int) AS terms_days
        FROM asked a JOIN care_terms c ON c.site_id = a.site_id AND (cardinality(c.line_ids) = 0 OR a.id = ANY (c.line_ids))
       WHERE c.from_day <= ${today}::date AND coalesce(c.to_day >= ${today}::date, true) AND coalesce(c.interval_days, c.visits_per_year) IS NOT NULL
       ORDER BY a.id, coalesce(c.interval_days, round(365.25 / c.visits_per_year)::int), c.id)
    SELECT a.id AS line_id, a.name, a.kind, a.site_id, a.address, m.care_terms_id, m.price_minor, m.terms_days, t.interval_days, t.due_on, t.due_rule, t.plug_chance_year,
           coalesce(t.due_reasons @> '[{"code": "needlessly_short"}]', false) AS needlessly_short
      FROM terms m JOIN asked a ON a.id = m.line_id LEFT JOIN trend t ON t.line_id = a.id ORDER BY a.id`;
}

/**
 * Visits of a period, as CTEs: \`visit\`, orders done and days of cleans that no order tells of, with what was asked
 * for them and what the crew took; \`visit_line\`, the lines each worked on. Warranty, goodwill and what the crew did not
 * bill bring nothing.
 */
function visitsSql({ fromDay, toDay }: Period, zone: string, put: Put): string {
  const [from, to, at] = [put(fromDay), put(toDay), put(zone)];
  return `, ended AS (
      SELECT DISTINCT ON (w.work_order_id) w.work_order_id, w.crew_id, w.billed
        FROM attempt w WHERE w.ended_at IS NOT NULL ORDER BY w.work_order_id, w.ended_at DESC, w.id),
    spent AS (
      SELECT w.work_order_id, sum(extract(epoch FROM w.ended_at - w.started_at) + coalesce(st.travel_s, 0)) / 3600 AS hours,
             sum((extract(epoch FROM w.ended_at - w.started_at) + coalesce(st.travel_s, 0)) / 3600 * c.cost_per_hour_minor) AS cost_minor
        FROM attempt w LEFT JOIN crew c ON c.id = w.crew_id LEFT JOIN stop st ON st.id = w.stop_id WHERE w.ended_at IS NOT NULL GROUP BY 1),
    cleaned AS (
      SELECT md5(l.site_id::text || c.day)::uuid AS visit_id, l.site_id, c.day, c.line_id, c.crew_id
        FROM (SELECT line_id, crew_id, (cleaned_at AT TIME ZONE ${at})::date AS day FROM clean
               WHERE work_order_id IS NULL AND withdrawn_at IS NULL AND cleaned_at >= ${from}::date - 3 AND cleaned_at < ${to}::date + 3) c
        JOIN line l ON l.id = c.line_id
       WHERE c.day BETWEEN ${from}::date AND ${to}::date AND l.site_id IN (SELECT site_id FROM asked)),
    visit AS (
      SELECT o.id AS visit_id, o.id AS work_order_id, o.number, o.site_id, (o.done_at AT TIME ZONE ${at})::date AS day, o.price_basis, o.returns_for_id, e.crew_id,
             p.hours, p.cost_minor, o.price_basis NOT IN ('warranty', 'goodwill') AND coalesce(e.billed, 'yes') = 'yes' AS billed, o.price_minor,
             coalesce((SELECT sum(k.price_minor) FROM work_order_task k WHERE k.work_order_id = o.id AND k.accepted_at IS NOT NULL AND k.result IN ('done', 'partly')), 0) AS added_minor
        FROM work_order o LEFT JOIN ended e ON e.work_order_id = o.id LEFT JOIN spent p ON p.work_order_id = o.id
       WHERE o.state = 'done' AND (o.done_at AT TIME ZONE ${at})::date BETWEEN ${from}::date AND ${to}::date
         AND EXISTS (SELECT FROM asked a WHERE a.site_id = o.site_id)
      UNION ALL
      SELECT visit_id, NULL, NULL, site_id, day, 'care_terms', NULL, (array_agg(crew_id))[1], NULL, NULL, true, NULL, 0
        FROM cleaned GROUP BY visit_id, site_id, day),
    visit_line AS (
      SELECT DISTINCT v.visit_id, k.line_id FROM visit v JOIN work_order_task k ON k.work_order_id = v.work_order_id WHERE k.line_id IS NOT NULL
      UNION ALL
      SELECT DISTINCT visit_id, line_id FROM cleaned),
    priced AS (
      SELECT v.*, CASE WHEN v.billed THEN coalesce(v.price_minor, m.price_minor, 0) + v.added_minor ELSE 0 END AS earned_minor, coalesce(v.price_minor, m.price_minor) AS agreed_minor
        FROM visit v LEFT JOIN LATERAL (
          SELECT c.price_minor FROM care_terms c WHERE v.price_basis = 'care_terms' AND c.site_id = v.site_id AND c.from_day <= v.day AND coalesce(c.to_day >= v.day, true)
           ORDER BY c.from_day DESC, c.id LIMIT 1) m ON true)`;
}

const EARNING_GROUPS = {
  line: { id: 'a.id', name: 'a.name', address: 'a.address' },
  site: { id: 'a.site_id', name: 'a.address', address: 'a.address' },
  client: { id: 'o.client_id', name: `coalesce(o.name, 'no client on record')`, address: 'NULL::text' },
} as const;

/** A visit's money is shared evenly by the lines it worked on. Hours nobody wrote down cost an ordinary visit. */
function earningSql(visits: string, by: keyof typeof EARNING_GROUPS, visitMinor: string): string {
  const { id, name, address } = EARNING_GROUPS[by];
  return `${visits},
    shared AS (
      SELECT p.*, count(*) OVER (PARTITION BY p.visit_id) AS lines, v.line_id FROM priced p JOIN visit_line v ON v.visit_id = p.visit_id),
    owned AS (
      SELECT p.visit_id, c.id AS client_id, c.name FROM priced p
        LEFT JOIN LATERAL (SELECT sc.client_id FROM site_client sc WHERE sc.site_id = p.site_id AND coalesce(sc.from_day <= p.day, true) AND coalesce(sc.to_day > p.day, true)
                            ORDER BY sc.from_day DESC NULLS LAST LIMIT 1) sc ON true
        LEFT JOIN client c ON c.id = sc.client_id)
    SELECT ${id} AS id, min(${name}) AS name, min(${address}) AS address, count(DISTINCT s.visit_id)::int AS visits, count(DISTINCT s.line_id)::int AS lines,
           sum(s.hours / s.lines) AS hours, sum(coalesce(s.cost_minor, ${visitMinor}::float8) / s.lines) AS cost_minor, sum(s.earned_minor::float8 / s.lines) AS earned_minor,
           count(DISTINCT s.visit_id) FILTER (WHERE NOT s.billed)::int AS unbilled,
           count(DISTINCT s.visit_id) FILTER (WHERE s.billed AND s.agreed_minor IS NULL AND s.added_minor = 0)::int AS unpriced
      FROM shared s JOIN asked a ON a.id = s.line_id JOIN owned o ON o.visit_id = s.visit_id
     GROUP BY ${id} ORDER BY sum(s.earned_minor::float8 / s.lines) - sum(coalesce(s.cost_minor, ${visitMinor}::float8) / s.lines), ${id}`;
}

/** A return falls to the crew and the task that worked on its lines before. */
function returnSql(visits: string): string {
  return `${visits},
    worked AS (
      SELECT DISTINCT v.work_order_id, v.crew_id, k.kind, k.line_id FROM visit v JOIN work_order_task k ON k.work_order_id = v.work_order_id JOIN asked a ON a.id = k.line_id
       WHERE v.work_order_id IS NOT NULL AND k.result IN ('done', 'partly')),
    came_back AS (
      SELECT DISTINCT w.work_order_id, w.crew_id, w.kind, r.id AS return_id, r.price_basis
        FROM worked w JOIN work_order r ON r.returns_for_id = w.work_order_id AND r.state <> 'withdrawn'
       WHERE EXISTS (SELECT FROM work_order_task k WHERE k.work_order_id = r.id AND k.line_id = w.line_id)
          OR NOT EXISTS (SELECT FROM work_order_task k WHERE k.work_order_id = r.id AND k.line_id IS NOT NULL))
    SELECT w.crew_id, c.name AS crew, w.kind AS task, count(DISTINCT w.work_order_id)::int AS done,
           (SELECT count(DISTINCT b.return_id)::int FROM came_back b WHERE b.crew_id IS NOT DISTINCT FROM w.crew_id AND b.kind = w.kind) AS returns,
           (SELECT count(DISTINCT b.return_id)::int FROM came_back b WHERE b.crew_id IS NOT DISTINCT FROM w.crew_id AND b.kind = w.kind AND b.price_basis = 'warranty') AS warranty,
           (SELECT count(DISTINCT b.return_id)::int FROM came_back b WHERE b.crew_id IS NOT DISTINCT FROM w.crew_id AND b.kind = w.kind AND b.price_basis = 'goodwill') AS goodwill
      FROM worked w LEFT JOIN crew c ON c.id = w.crew_id GROUP BY w.crew_id, c.name, w.kind ORDER BY 5 DESC, 4 DESC, 2, 3`;
}

function doneSql(visits: string): string {
  return `${visits}
    SELECT p.work_order_id, p.number, p.day, p.site_id, s.address, s.town, o.client_id, o.client, c.name AS crew, p.hours, p.price_basis, p.agreed_minor, p.added_minor::int AS added_minor, p.billed,
           p.earned_minor::int AS earned_minor, r.number AS returns_for,
           (SELECT string_agg(k.kind, ' ' ORDER BY k.position) FROM work_order_task k WHERE k.work_order_id = p.work_order_id AND k.result IN ('done', 'partly')) AS tasks
      FROM priced p JOIN site s ON s.id = p.site_id LEFT JOIN crew c ON c.id = p.crew_id LEFT JOIN work_order r ON r.id = p.returns_for_id
      LEFT JOIN LATERAL (SELECT sc.client_id, c.name AS client FROM site_client sc JOIN client c ON c.id = sc.client_id
                          WHERE sc.site_id = p.site_id AND coalesce(sc.from_day <= p.day, true) AND coalesce(sc.to_day > p.day, true) ORDER BY sc.from_day DESC NULLS LAST LIMIT 1) o ON true
     WHERE p.work_order_id IS NOT NULL AND EXISTS (SELECT FROM visit_line v JOIN asked a ON a.id = v.line_id WHERE v.visit_id = p.visit_id)
     ORDER BY p.day, p.number`;
}
