import type { Pool } from 'pg';
import type { Gauges } from '../actions/gauges.js';

const COUNTS = `
  SELECT (SELECT count(*)::int FROM graphile_worker.jobs WHERE attempts < max_attempts AND locked_at IS NULL AND run_at <= now()) AS waiting,
         (SELECT count(*)::int FROM graphile_worker.jobs WHERE attempts >= max_attempts) AS failed,
         (SELECT count(*)::int FROM work_order WHERE state = 'wanted') AS orders,
         (SELECT coalesce(extract(epoch FROM $1::timestamptz - min(created_at)) / 86400, 0)::float8 FROM work_order WHERE state = 'wanted') AS oldest_days,
         (SELECT count(*)::int FROM forecast_score) AS judged,
         (SELECT coalesce(sum(expected), 0)::float8 FROM forecast_score) AS expected,
         (SELECT coalesce(sum(passed), 0)::float8 FROM forecast_score) AS passed`;

const NIGHT = `
  SELECT r.business_day, r.state, extract(epoch FROM $1::timestamptz - r.started_at)::float8 AS age_s,
         (SELECT jsonb_agg(jsonb_build_object('name', s.name, 'seconds', s.seconds) ORDER BY s.position)
            FROM nightly_step s WHERE s.run_id = r.id AND s.seconds IS NOT NULL) AS steps
    FROM nightly_run r WHERE r.started_at IS NOT NULL ORDER BY r.started_at DESC LIMIT 1`;

export async function readGauges(pool: Pool, now: Date): Promise<Gauges> {
  const connections = { open: pool.totalCount, idle: pool.idleCount, waiting: pool.waitingCount };
  const { rows } = await pool.query(COUNTS, [now]);
  const counts = rows[0] as Record<string, number>;
  const night = (await pool.query(NIGHT, [now])).rows[0];
  const of = (name: string): number => counts[name] ?? 0;
  return {
    connections,
    jobs: { waiting: of('waiting'), failed: of('failed') },
    night: night
      ? {
          businessDay: night.business_day,
          state: night.state,
          ageS: night.age_s,
          stepSeconds: night.steps ?? [],
        }
      : null,
    unplaced: { orders: of('orders'), oldestDays: of('oldest_days') },
    forecasts: { judged: of('judged'), expected: of('expected'), passed: of('passed') },
  };
}
