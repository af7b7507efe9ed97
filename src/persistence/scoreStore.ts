import type { ScoreStore } from '../actions/night/scoreStore.js';
import type { ForeseenLaw } from '../domain/fouling/levelForeseen.js';
import { DUE_AT_ONCE, HISTORY_CLASSES, type ResidualSums } from '../domain/fouling/selfScore.js';
import { CLEANED } from './nightBooks.js';
import { askedLines } from './reports/askedLines.js';
import type { Queryable } from './rowStore.js';

/**
 * One row a visit: the sharpest reading of its day before the line was cleaned, a plug before all. Visits that were not
 * the first after their forecast, by reading or by clean, are another forecast's or nobody's.
 */
const UNJUDGED = `
  WITH visits AS (
    SELECT DISTINCT ON (i.line_id, (i.observed_at AT TIME ZONE $3)::date)
           i.id AS inspection_id, i.line_id, (i.observed_at AT TIME ZONE $3)::date AS found_on, i.method, i.crew_id, i.occlusion AS found, i.standard_error,
           i.bound, i.plug_cause, r.verdict IS NOT DISTINCT FROM 'confirmed' AS confirmed
      FROM inspection i LEFT JOIN reading_review r ON r.inspection_id = i.id
     WHERE i.line_id IS NOT NULL AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND i.phase <> 'after_cleaning' AND coalesce(r.verdict, 'open') <> 'dismissed'
       AND i.observed_at >= ($1::date)::timestamp AT TIME ZONE $3 AND i.observed_at < $2
     ORDER BY i.line_id, (i.observed_at AT TIME ZONE $3)::date, i.plug_cause IS NULL, i.standard_error, i.id)
  SELECT v.*, h.as_of, h.fit_id, h.engine_version, h.action_chances, h.action_limit, h.occlusion, h.rate_per_month, h.due_on, h.readings_used,
         (SELECT (max(c.cleaned_at) AT TIME ZONE $3)::date FROM clean c WHERE c.line_id = v.line_id AND ${CLEANED}
             AND c.cleaned_at < (h.as_of)::timestamp AT TIME ZONE $3) AS cleaned_on
    FROM visits v
    JOIN LATERAL (SELECT evidence_hash FROM trend_history WHERE line_id = v.line_id AND as_of <= v.found_on ORDER BY as_of DESC LIMIT 1) newest ON true
    JOIN LATERAL (SELECT * FROM trend_history WHERE line_id = v.line_id AND as_of <= v.found_on AND evidence_hash = newest.evidence_hash ORDER BY as_of LIMIT 1) h ON true
   WHERE NOT EXISTS (SELECT FROM forecast_score s WHERE s.line_id = v.line_id AND s.forecast_of = h.as_of)
     AND NOT EXISTS (SELECT FROM inspection o WHERE o.line_id = v.line_id AND o.replaced_at IS NULL AND o.withdrawn_at IS NULL
                        AND o.observed_at >= (h.as_of)::timestamp AT TIME ZONE $3 AND o.observed_at < (v.found_on)::timestamp AT TIME ZONE $3)
     AND NOT EXISTS (SELECT FROM clean c WHERE c.line_id = v.line_id AND c.withdrawn_at IS NULL
                        AND c.cleaned_at >= (h.as_of)::timestamp AT TIME ZONE $3 AND c.cleaned_at < (v.found_on)::timestamp AT TIME ZONE $3)
   ORDER BY v.line_id, v.found_on`;

/** Each score belongs to one class. */
const CLASSES = [
  ...HISTORY_CLASSES.map(({ name, from, to }) => ({
    name,
    where: `NOT due_at_once AND readings_used BETWEEN ${from} AND ${Math.min(to, 2_147_483_647)}`,
  })),
  { name: DUE_AT_ONCE, where: 'due_at_once' },
];

export function makeScoreStore(q: Queryable): ScoreStore {
  const rows = async (text: string, values: unknown[] = []) => (await q.query(text, values)).rows;
  return {
    async forgetStale() {
      const { rowCount } = await q.query(
        `DELETE FROM forecast_score s USING inspection i LEFT JOIN reading_review r ON r.inspection_id = i.id
          WHERE i.id = s.inspection_id AND (i.replaced_at IS NOT NULL OR i.withdrawn_at IS NOT NULL OR r.verdict = 'dismissed')`,
      );
      return rowCount ?? 0;
    },
    unjudged: ({ from, before, zone }) => rows(UNJUDGED, [from, before, zone]),
    async lawsOf(fitIds) {
      const laws = await rows(
        `SELECT f.id, (SELECT jsonb_agg(jsonb_build_object('k1', s->'k1', 'k2', s->'k2', 'weight', s->'weight', 'parameters', s->'parameters'))
                         FROM jsonb_array_elements(f.parameters->'shapes') s) AS laws FROM fit f WHERE f.id = ANY ($1::uuid[])`,
        [fitIds],
      );
      return new Map(laws.map((row) => [String(row['id']), row['laws'] as ForeseenLaw[]]));
    },
    async put(scores) {
      if (scores.length === 0) return;
      const columns = Object.keys(scores[0] ?? {});
      await q.query(
        `INSERT INTO forecast_score (${columns}) SELECT ${columns.map((c) => `r.${c}`)} FROM jsonb_populate_recordset(NULL::public.forecast_score, $1::jsonb) r
         ON CONFLICT DO NOTHING`,
        [JSON.stringify(scores)],
      );
    },
    async sums(from, asked) {
      const values: unknown[] = [from];
      const scores =
        asked === undefined
          ? 'forecast_score'
          : `(SELECT f.* FROM forecast_score f JOIN (${askedLines(asked, values)}) a ON a.id = f.line_id)`;
      const classes = [];
      for (const { name, where } of CLASSES) {
        const [sum] = await rows(
          `SELECT count(*)::int AS count, coalesce(sum(expected), 0) AS expected, coalesce(sum(passed), 0) AS passed,
                  coalesce(sum(expected * (1 - expected)), 0) AS variance
             FROM ${scores} s WHERE found_on >= $1 AND ${where}`,
          values,
        );
        classes.push({
          name,
          count: Number(sum?.['count']),
          expected: Number(sum?.['expected']),
          passed: Number(sum?.['passed']),
          variance: Number(sum?.['variance']),
        });
      }
      const residuals = async (name: string, joined: string): Promise<ResidualSums[]> =>
        (
          await rows(
            `SELECT ${name} AS name, count(*)::int AS count, avg(s.residual) AS mean, coalesce(stddev_samp(s.residual), 0) AS sd
               FROM ${scores} s ${joined} WHERE s.found_on >= $1 AND s.residual IS NOT NULL AND ${name} IS NOT NULL GROUP BY 1 ORDER BY 1`,
            values,
          )
        ).map((row) => ({
          name: String(row['name']),
          count: Number(row['count']),
          mean: Number(row['mean']),
          sd: Number(row['sd']),
        }));
      return {
        classes,
        methods: await residuals('s.method', ''),
        crews: await residuals('c.name', 'JOIN crew c ON c.id = s.crew_id'),
      };
    },
    async putReport(day, report) {
      await q.query(
        'INSERT INTO night_calibration (as_of, report) VALUES ($1, $2) ON CONFLICT (as_of) DO UPDATE SET report = excluded.report',
        [day, JSON.stringify(report)],
      );
    },
    async nights(atMost) {
      const nights = await rows(
        `SELECT as_of, (report->>'count')::int AS count, (report->>'off')::boolean AS off FROM night_calibration ORDER BY as_of DESC LIMIT $1`,
        [atMost],
      );
      return nights.map((night) => ({
        asOf: String(night['as_of']),
        count: Number(night['count']),
        off: night['off'] === true,
      }));
    },
  };
}
