import type { Pool, PoolClient } from 'pg';
import type { NightStore } from '../actions/night/nightStore.js';
import type { BaseFit } from '../domain/fouling/fitBase.js';
import { liveJob } from './jobStore.js';
import { lineStates, oldTrends, putLineStates, putTrends } from './nightBeliefs.js';
import { bookedLines, CLEANED, eventsOfLines } from './nightBooks.js';
import type { Queryable } from './rowStore.js';

/** Lines in service with what they stand on, as of a day. */
const LINES = `
  SELECT l.id, l.site_id, l.system_id, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm,
         coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l) AS iron_mg_l, l.action_limit, l.plug_limit, l.under_slab,
         l.stays_wet, l.deposit, l.length_m, l.perforated, l.drains_to, l.drains_to_line_id, l.drains_to_pit_id,
         l.name, l.outlet, l.discharge_permit_ref,
         s.area, s.basement, e.id AS epoch_id, e.started_on, e.begins, e.because,
         p.id IS NOT NULL AS is_discharge, p.id AS discharge_of,
         (SELECT jsonb_agg(jsonb_build_object('material', w.material, 'condition', w.condition) ORDER BY w.from_m, w.id) FROM line_section w WHERE w.line_id = l.id AND w.removed_on IS NULL) AS walls,
         (SELECT jsonb_build_object('diameter_mm', q.diameter_mm, 'depth_mm', q.depth_mm, 'inflow_lps', q.inflow_lps,
                   'float_on_mm', (SELECT u.float_on_mm FROM pump u WHERE u.pit_id = q.id AND u.duty = 'main' AND u.removed_on IS NULL AND u.float_on_mm IS NOT NULL ORDER BY u.id LIMIT 1))
            FROM pit q WHERE q.system_id = l.system_id) AS pit
    FROM line l
    JOIN site s ON s.id = l.site_id AND s.archived_on IS NULL
    LEFT JOIN LATERAL (SELECT id, started_on, begins, because FROM epoch WHERE line_id = l.id AND started_on <= $1 ORDER BY started_on DESC LIMIT 1) e ON true
    LEFT JOIN pit p ON p.discharge_line_id = l.id AND p.archived_on IS NULL
   WHERE l.archived_on IS NULL AND`;
const LINES_OF_DUE_SITES = `${LINES} l.site_id IN (SELECT d.site_id FROM trend t JOIN line d ON d.id = t.line_id WHERE t.due_on <= $2) ORDER BY l.id`;

/** What the night may have put on an order, and nothing else. */
const OWN_TASKS = `'survey', 'inspect', 'hose_flush', 'jet', 'clear_pit', 'test_pump'`;

/** The night's orders that nobody has in hand yet. */
const NOT_IN_HAND = `o.state = 'wanted' AND o.cause IN ('due', 'first_survey') AND o.lock_day IS NULL AND o.follows_id IS NULL
     AND NOT EXISTS (SELECT FROM attempt a WHERE a.work_order_id = o.id)
     AND NOT EXISTS (SELECT FROM stop s WHERE s.work_order_id = o.id AND s.live)
     AND NOT EXISTS (SELECT FROM promise p WHERE p.work_order_id = o.id AND p.ended_at IS NULL)
     AND NOT EXISTS (SELECT FROM work_order_task w WHERE w.work_order_id = o.id
                        AND (w.kind NOT IN (${OWN_TASKS}) OR w.result IS NOT NULL OR w.added_by IS NOT NULL))`;

/** Those of them of lines on which something was found or done since. */
const VISITS_WITH_NEWS = `
  SELECT o.id, array_agg(DISTINCT k.line_id) FILTER (WHERE k.line_id IS NOT NULL) AS line_ids
    FROM work_order o JOIN work_order_task k ON k.work_order_id = o.id
   WHERE ${NOT_IN_HAND}
   GROUP BY o.id
  HAVING bool_or(EXISTS (SELECT FROM inspection i WHERE i.line_id = k.line_id AND i.updated_at > o.created_at)
              OR EXISTS (SELECT FROM clean c WHERE c.line_id = k.line_id AND c.updated_at > o.created_at))
   ORDER BY o.id`;

/** Those of them that no person had a hand in and no client knows of, all of whose lines are due after the wanted day. */
const VISITS_DUE_LATER = `
  SELECT o.id, array_agg(DISTINCT k.line_id) AS line_ids, min(t.due_on) AS lines_due_on,
         (SELECT min(p.due_on) FROM work_order_task w JOIN pit p ON p.id = w.pit_id WHERE w.work_order_id = o.id) AS pits_due_on
    FROM work_order o
    JOIN work_order_task k ON k.work_order_id = o.id AND k.line_id IS NOT NULL
    LEFT JOIN trend t ON t.line_id = k.line_id
   WHERE ${NOT_IN_HAND} AND o.wanted_by IS NOT NULL AND o.returns_for_id IS NULL
     AND NOT EXISTS (SELECT FROM work_order f WHERE f.follows_id = o.id AND f.state <> 'withdrawn')
     AND NOT EXISTS (SELECT FROM precondition c WHERE c.work_order_id = o.id AND c.kind = 'consent' AND c.state = 'met')
     AND NOT EXISTS (SELECT FROM event e JOIN mail m ON m.event_id = e.id WHERE e.work_order_id = o.id AND m.state IN ('sent', 'uncertain'))
   GROUP BY o.id
  HAVING bool_and(t.line_id IS NOT NULL) AND coalesce(min(t.due_on) > o.wanted_by, true)
     AND NOT EXISTS (SELECT FROM change_log g WHERE g.resource = 'work_order' AND g.row_id = o.id AND g.actor !~ '^night( \\d{4}-\\d\\d-\\d\\d)?$')
   ORDER BY o.id`;

const CLEANED_WITHOUT_FLOW = `
  SELECT n.line_id, min(n.cleaned_at) AS at
    FROM clean n
    LEFT JOIN LATERAL (SELECT max(c.cleaned_at) AS at FROM clean c WHERE c.line_id = n.line_id AND ${CLEANED} AND c.cleaned_at < $1) good ON true
   WHERE n.line_id IS NOT NULL AND n.withdrawn_at IS NULL AND n.flow_proven = 'no' AND n.cleaned_at < $1 AND n.cleaned_at > coalesce(good.at, '-infinity')
   GROUP BY n.line_id ORDER BY n.line_id`;

/** COPY needs one connection to itself: the transaction's, or one of the pool. */
async function withClient<T>(q: Queryable, work: (client: PoolClient) => Promise<T>): Promise<T> {
  if ('release' in q) return work(q as unknown as PoolClient);
  const client = await (q as unknown as Pool).connect();
  try {
    return await work(client);
  } finally {
    client.release();
  }
}

export function makeNightStore(q: Queryable): NightStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  return {
    linesOfDueSites: (day, dueBy) => rows(LINES_OF_DUE_SITES, [day, dueBy]),
    visitsWithNews: () => rows(VISITS_WITH_NEWS, []),
    visitsDueLater: () => rows(VISITS_DUE_LATER, []),
    async linesWithTrend(day, lineIds) {
      if (lineIds.length === 0) return [];
      const lines = await rows(`${LINES} l.id = ANY ($2::uuid[]) ORDER BY l.id`, [day, lineIds]);
      const trends = await rows('SELECT * FROM trend WHERE line_id = ANY ($1::uuid[])', [lineIds]);
      return lines.flatMap((line) => {
        const trend = trends.find((each) => each['line_id'] === line['id']);
        return trend ? [{ ...line, trend }] : [];
      });
    },
    bookedLines: (day, before) => withClient(q, (client) => bookedLines(client, day, before)),
    eventsOf: (lineIds, before, zone) =>
      withClient(q, (client) => eventsOfLines(client, lineIds, before, zone)),
    lineStates: (lineIds) => withClient(q, (client) => lineStates(client, lineIds)),
    putLineStates: (states, all) => withClient(q, (client) => putLineStates(client, states, all)),
    cleanedWithoutFlow: (before) => rows(CLEANED_WITHOUT_FLOW, [before]),
    oldTrends: () => withClient(q, oldTrends),
    putTrends: (day, columns, trends) => withClient(q, (client) => putTrends(client, day, columns, trends)),
    async lastFit(engineVersion, day) {
      const [row] = await rows(
        'SELECT id, as_of, parameters FROM fit WHERE engine_version = $1 AND as_of <= $2 ORDER BY as_of DESC, id DESC LIMIT 1',
        [engineVersion, day],
      );
      if (!row) return null;
      return { id: String(row['id']), asOf: String(row['as_of']), parameters: row['parameters'] as BaseFit };
    },
    async lastWeeklyFit(engineVersion, day) {
      const [row] = await rows(
        `SELECT max(as_of) AS as_of FROM fit WHERE engine_version = $1 AND as_of <= $2 AND kind = 'weekly'`,
        [engineVersion, day],
      );
      return (row?.['as_of'] as string | null | undefined) ?? null;
    },
    workedSince: (from) =>
      rows(
        `SELECT line_id, pit_id FROM clean WHERE cleaned_at >= $1 AND withdrawn_at IS NULL
         UNION SELECT k.line_id, k.pit_id FROM work_order_task k JOIN work_order o ON o.id = k.work_order_id
          WHERE o.done_at >= $1 AND k.result IN ('done', 'not_needed')`,
        [from],
      ),
    openTasks: () =>
      rows(`SELECT k.line_id, k.pit_id, k.kind, k.work_order_id, o.state, o.cause, o.wanted_by, o.site_id
              FROM work_order_task k JOIN work_order o ON o.id = k.work_order_id WHERE k.open`),
    async openReviews(doubts, lookedInto) {
      const inspectionIds = doubts.map(({ inspectionId }) => inspectionId);
      if (lookedInto.length > 0) {
        await q.query(
          `UPDATE reading_review SET verdict = 'settled', weight = 1, decided_at = now()
            WHERE verdict = 'open' AND line_id = ANY ($1::uuid[]) AND inspection_id <> ALL ($2::uuid[])`,
          [lookedInto, inspectionIds],
        );
      }
      if (doubts.length === 0) return;
      await q.query(
        `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion)
         SELECT * FROM unnest($1::uuid[], $2::uuid[], $3::float8[], $4::text[])
         ON CONFLICT (inspection_id) DO UPDATE SET weight = excluded.weight, suspicion = excluded.suspicion, verdict = 'open', decided_at = NULL
          WHERE reading_review.verdict IN ('open', 'settled') AND reading_review.weight <> excluded.weight`,
        [
          inspectionIds,
          doubts.map(({ lineId }) => lineId),
          doubts.map(({ weight }) => weight),
          doubts.map(({ suspicion }) => suspicion),
        ],
      );
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
    async lastDay() {
      const [row] = await rows("SELECT max(business_day) AS day FROM nightly_run WHERE state <> 'waiting'");
      return row?.['day'] ? String(row['day']) : null;
    },
    async giveBack(runId, holder) {
      const { rowCount } = await q.query(
        `UPDATE nightly_run SET holder = NULL, lease_until = now() WHERE id = $1 AND holder = $2 AND state = 'running'`,
        [runId, holder],
      );
      return rowCount === 1;
    },
    lapsedRuns: (today) =>
      rows(
        `SELECT * FROM nightly_run r
          WHERE state = 'running' AND coalesce(lease_until < now(), true)
             OR state = 'waiting' AND business_day <= $1 AND updated_at < now() - interval '1 minute'
                AND NOT ${liveJob("'night:' || r.business_day")}
          ORDER BY business_day`,
        [today],
      ),
    async failedSince(day, minutes) {
      const [run] = await rows(
        `SELECT * FROM nightly_run
          WHERE business_day = $1 AND state = 'failed' AND updated_at < now() - make_interval(mins => $2)`,
        [day, minutes],
      );
      return run ?? null;
    },
    async firstLeave(day) {
      const [row] = await rows(
        `SELECT min(leaves_at) AS at FROM route WHERE day = $1 AND state = 'live' AND NOT on_call`,
        [day],
      );
      return row?.['at'] ? String(row['at']) : null;
    },
  };
}
