import type { Period } from '../../actions/reports/lineFilter.js';
import type { ReportStore, VisitPrices } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { asking, type Put } from './asking.js';

type MoneyReports = Pick<ReportStore, 'careTermLines' | 'earnings' | 'returnWork' | 'doneWork'>;

export function makeMoneyReports(q: Queryable): MoneyReports {
  const over = asking(q);
  const overWork = asking(q, { sites: true });
  return {
    careTermLines: (asked) => over(asked, (put) => careTermSql(put(asked.today))),
    earnings: ({ asked, period, zone, by, prices }) =>
      overWork(asked, (put) => earningSql(visitsSql(period, zone, put, prices), by)),
    returnWork: ({ asked, period, zone, prices }) =>
      overWork(asked, (put) => returnSql(visitsSql(period, zone, put, prices))),
    doneWork: ({ asked, period, zone, prices }) =>
      overWork(asked, (put) => doneSql(visitsSql(period, zone, put, prices))),
  };
}

/** Care terms in force on a day with the interval they come to, each against what is believed of its line. */
function careTermSql(today: string): string {
  return `, terms AS (
      SELECT DISTINCT ON (a.id) a.id AS line_id, c.id AS care_terms_id, c.price_minor, coalesce(c.interval_days, round(365.25 / c.visits_per_year)::int) AS terms_days
        FROM asked a JOIN care_terms c ON c.site_id = a.site_id AND (cardinality(c.line_ids) = 0 OR a.id = ANY (c.line_ids))
       WHERE c.from_day <= ${today}::date AND coalesce(c.to_day >= ${today}::date, true) AND coalesce(c.interval_days, c.visits_per_year) IS NOT NULL
       ORDER BY a.id, coalesce(c.interval_days, round(365.25 / c.visits_per_year)::int), c.id)
    SELECT a.id AS line_id, a.name, a.kind, a.site_id, a.address, m.care_terms_id, m.price_minor, m.terms_days, a.basement, l.stays_wet, t.interval_days, t.due_on, t.due_rule, t.plug_chance_year,
           coalesce(t.due_reasons @> '[{"code": "needlessly_short"}]', false) AS needlessly_short
      FROM terms m JOIN asked a ON a.id = m.line_id JOIN line l ON l.id = a.id LEFT JOIN trend t ON t.line_id = a.id ORDER BY a.id`;
}

/**
 * Visits of a period, as CTEs: `visit`, orders done and days of cleans that no order tells of, with what was asked
 * for them and what the crew took; `visit_line`, the lines each worked on: those of its tasks, else those that drain
 * through its pits, else those of the house, else none; `priced`, what each cost and brought; `counted`, the visits
 * asked for with the lines asked for. Hours cost the crew's own price or the setting's; only where nobody wrote hours
 * down an ordinary visit is taken. Warranty, goodwill and what the crew did not bill bring nothing.
 */
function visitsSql({ fromDay, toDay }: Period, zone: string, put: Put, prices: VisitPrices): string {
  const [from, to, at] = [put(fromDay), put(toDay), put(zone)];
  const [visitMinor, hourMinor] = [put(prices.visitMinor), put(prices.crewHourMinor)];
  return `, sites AS (SELECT site_id AS id FROM asked UNION SELECT id FROM asked_site),
    ended AS (
      SELECT DISTINCT ON (w.work_order_id) w.work_order_id, w.crew_id, w.billed
        FROM attempt w WHERE w.ended_at IS NOT NULL ORDER BY w.work_order_id, w.ended_at DESC, w.id),
    spent AS (
      SELECT w.work_order_id, sum(extract(epoch FROM w.ended_at - w.started_at) + coalesce(st.travel_s, 0)) / 3600 AS hours,
             sum((extract(epoch FROM w.ended_at - w.started_at) + coalesce(st.travel_s, 0)) / 3600 * coalesce(c.cost_per_hour_minor, ${hourMinor}::float8)) AS cost_minor
        FROM attempt w LEFT JOIN crew c ON c.id = w.crew_id LEFT JOIN stop st ON st.id = w.stop_id WHERE w.ended_at IS NOT NULL GROUP BY 1),
    cleaned AS (
      SELECT md5(l.site_id::text || c.day)::uuid AS visit_id, l.site_id, c.day, c.line_id, c.crew_id
        FROM (SELECT line_id, crew_id, (cleaned_at AT TIME ZONE ${at})::date AS day FROM clean
               WHERE work_order_id IS NULL AND withdrawn_at IS NULL AND cleaned_at >= ${from}::date - 3 AND cleaned_at < ${to}::date + 3) c
        JOIN line l ON l.id = c.line_id
       WHERE c.day BETWEEN ${from}::date AND ${to}::date AND l.site_id IN (SELECT id FROM sites)),
    visit AS (
      SELECT o.id AS visit_id, o.id AS work_order_id, o.number, o.site_id, (o.done_at AT TIME ZONE ${at})::date AS day, o.price_basis, o.returns_for_id, e.crew_id,
             p.hours, p.cost_minor, o.price_basis NOT IN ('warranty', 'goodwill') AND coalesce(e.billed, 'yes') = 'yes' AS billed, o.price_minor,
             coalesce((SELECT sum(k.price_minor) FROM work_order_task k WHERE k.work_order_id = o.id AND k.accepted_at IS NOT NULL AND k.result IN ('done', 'partly')), 0) AS added_minor
        FROM work_order o LEFT JOIN ended e ON e.work_order_id = o.id LEFT JOIN spent p ON p.work_order_id = o.id
       WHERE o.state = 'done' AND (o.done_at AT TIME ZONE ${at})::date BETWEEN ${from}::date AND ${to}::date AND o.site_id IN (SELECT id FROM sites)
      UNION ALL
      SELECT visit_id, NULL, NULL, site_id, day, 'care_terms', NULL, (array_agg(crew_id))[1], NULL, NULL, true, NULL, 0
        FROM cleaned GROUP BY visit_id, site_id, day),
    on_lines AS (
      SELECT DISTINCT v.visit_id, k.line_id FROM visit v JOIN work_order_task k ON k.work_order_id = v.work_order_id WHERE k.line_id IS NOT NULL
      UNION ALL
      SELECT DISTINCT visit_id, line_id FROM cleaned),
    on_pits AS (
      SELECT DISTINCT v.visit_id, l.id AS line_id FROM visit v JOIN work_order_task k ON k.work_order_id = v.work_order_id JOIN pit p ON p.id = k.pit_id JOIN line l ON l.system_id = p.system_id
       WHERE v.visit_id NOT IN (SELECT visit_id FROM on_lines)),
    told AS (SELECT * FROM on_lines UNION ALL SELECT * FROM on_pits),
    visit_line AS (
      SELECT * FROM told
      UNION ALL
      SELECT v.visit_id, l.id FROM visit v LEFT JOIN line l ON l.site_id = v.site_id WHERE v.visit_id NOT IN (SELECT visit_id FROM told)),
    -- Of each line the terms that name it, else those of the whole house; the newest of the day.
    terms AS (
      SELECT visit_id, sum(price_minor)::int AS price_minor FROM (
        SELECT DISTINCT v.visit_id, c.id, c.price_minor FROM visit v JOIN visit_line l ON l.visit_id = v.visit_id
          JOIN LATERAL (
            SELECT c.id, c.price_minor FROM care_terms c
             WHERE c.site_id = v.site_id AND (cardinality(c.line_ids) = 0 OR l.line_id = ANY (c.line_ids)) AND c.from_day <= v.day AND coalesce(c.to_day >= v.day, true)
             ORDER BY cardinality(c.line_ids) = 0, c.from_day DESC, c.id LIMIT 1) c ON true
         WHERE v.price_basis = 'care_terms') each_once GROUP BY 1),
    priced AS (
      SELECT v.*, coalesce(v.cost_minor, ${visitMinor}::float8) AS spent_minor, coalesce(v.price_minor, m.price_minor) AS agreed_minor,
             CASE WHEN v.billed THEN coalesce(v.price_minor, m.price_minor, 0) + v.added_minor ELSE 0 END AS earned_minor,
             v.billed AND coalesce(v.price_minor, m.price_minor) IS NULL AND v.added_minor = 0 AS unpriced
        FROM visit v LEFT JOIN terms m ON m.visit_id = v.visit_id),
    counted AS (
      SELECT * FROM (SELECT p.*, count(*) OVER (PARTITION BY p.visit_id) AS lines, l.line_id FROM priced p JOIN visit_line l ON l.visit_id = p.visit_id) s
       WHERE s.line_id IN (SELECT id FROM asked) OR s.site_id IN (SELECT id FROM asked_site))`;
}

const EARNING_GROUPS = {
  line: { id: 's.line_id', name: `coalesce(l.name, 'no line on record')`, address: 'h.address' },
  site: { id: 's.site_id', name: 'h.address', address: 'h.address' },
  client: { id: 'o.client_id', name: `coalesce(o.name, 'no client on record')`, address: 'NULL::text' },
} as const;

/** A visit's money is shared evenly by the lines it worked on. What has no price is told beside, not counted as a loss. */
function earningSql(visits: string, by: keyof typeof EARNING_GROUPS): string {
  const { id, name, address } = EARNING_GROUPS[by];
  return `${visits},
    owned AS (
      SELECT p.visit_id, c.id AS client_id, c.name FROM priced p
        LEFT JOIN LATERAL (SELECT sc.client_id FROM site_client sc WHERE sc.site_id = p.site_id AND coalesce(sc.from_day <= p.day, true) AND coalesce(sc.to_day > p.day, true)
                            ORDER BY sc.from_day DESC NULLS LAST LIMIT 1) sc ON true
        LEFT JOIN client c ON c.id = sc.client_id)
    SELECT ${id} AS id, min(${name}) AS name, min(${address}) AS address, count(DISTINCT s.visit_id)::int AS visits, count(DISTINCT s.line_id)::int AS lines,
           sum(s.hours / s.lines) AS hours, sum(s.spent_minor / s.lines) AS cost_minor, sum(s.earned_minor::float8 / s.lines) AS earned_minor,
           coalesce(sum(s.spent_minor / s.lines) FILTER (WHERE s.unpriced), 0) AS unpriced_cost_minor,
           count(DISTINCT s.visit_id) FILTER (WHERE NOT s.billed)::int AS unbilled,
           count(DISTINCT s.visit_id) FILTER (WHERE s.unpriced)::int AS unpriced,
           count(DISTINCT s.visit_id) FILTER (WHERE s.cost_minor IS NULL)::int AS without_hours
      FROM counted s JOIN owned o ON o.visit_id = s.visit_id JOIN site h ON h.id = s.site_id LEFT JOIN line l ON l.id = s.line_id
     GROUP BY ${id} ORDER BY sum((s.earned_minor - s.spent_minor) / s.lines) FILTER (WHERE NOT s.unpriced) NULLS LAST, ${id}`;
}

/** A return falls to the crew and the task that worked on its lines and pits before. */
function returnSql(visits: string): string {
  return `${visits},
    worked AS (
      SELECT DISTINCT v.work_order_id, v.crew_id, k.kind, k.line_id, k.pit_id FROM visit v JOIN work_order_task k ON k.work_order_id = v.work_order_id
       WHERE v.visit_id IN (SELECT visit_id FROM counted) AND k.result IN ('done', 'partly')
         AND (k.line_id IS NULL OR k.line_id IN (SELECT id FROM asked) OR v.site_id IN (SELECT id FROM asked_site))),
    came_back AS (
      SELECT DISTINCT w.work_order_id, w.crew_id, w.kind, r.id AS return_id, r.price_basis
        FROM worked w JOIN work_order r ON r.returns_for_id = w.work_order_id AND r.state <> 'withdrawn'
       WHERE EXISTS (SELECT FROM work_order_task k WHERE k.work_order_id = r.id AND (k.line_id = w.line_id OR k.pit_id = w.pit_id))
          OR NOT EXISTS (SELECT FROM work_order_task k WHERE k.work_order_id = r.id AND (k.line_id IS NOT NULL OR k.pit_id IS NOT NULL)))
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
     WHERE p.work_order_id IS NOT NULL AND p.visit_id IN (SELECT visit_id FROM counted)
     ORDER BY p.day, p.number`;
}
