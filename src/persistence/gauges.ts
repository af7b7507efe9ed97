import type { Pool } from 'pg';
import type { Gauges, PoolGauge } from '../actions/gauges.js';
import { jobMatters } from './jobStore.js';
import { timeoutsOf } from './pool.js';

const COUNTS = `
  WITH job AS (
    SELECT attempts >= max_attempts AS dead, locked_at IS NOT NULL AS locked, run_at, ${jobMatters('j')} AS matters
      FROM graphile_worker.jobs j)
  SELECT count(*) FILTER (WHERE NOT dead AND NOT locked AND run_at <= now())::int AS waiting,
         count(*) FILTER (WHERE locked)::int AS locked,
         count(*) FILTER (WHERE dead AND NOT locked AND matters)::int AS failed,
         coalesce(extract(epoch FROM now() - min(run_at) FILTER (WHERE (locked OR NOT dead) AND run_at <= now())), 0)::float8 AS job_oldest_s
    FROM job`;

const BUSINESS = `
  SELECT (SELECT count(*)::int FROM work_order WHERE state = 'wanted') AS orders,
         (SELECT coalesce(extract(epoch FROM $1::timestamptz - min(created_at)), 0)::float8 FROM work_order WHERE state = 'wanted') AS oldest_s,
         (SELECT count(*)::int FROM forecast_score) AS judged,
         (SELECT coalesce(sum(expected), 0)::float8 FROM forecast_score) AS expected,
         (SELECT coalesce(sum(passed), 0)::float8 FROM forecast_score) AS passed,
         pg_database_size(current_database())::float8 AS database_bytes,
         (SELECT count(*)::int FROM _prisma_migrations WHERE finished_at IS NOT NULL) AS migrations`;

const BACKLOG = `
  SELECT 'events' AS name, count(*)::int AS waiting, 0 AS failed, min(created_at) AS oldest FROM event WHERE posted_at IS NULL
  UNION ALL
  SELECT 'webhooks', count(*) FILTER (WHERE state = 'waiting')::int, count(*) FILTER (WHERE state = 'failed' AND coalesce(last_tried_at, created_at) > now() - interval '1 day')::int,
         min(created_at) FILTER (WHERE state = 'waiting') FROM webhook_delivery WHERE state IN ('waiting', 'failed')
  UNION ALL
  SELECT 'mails', count(*) FILTER (WHERE state = 'waiting')::int, count(*) FILTER (WHERE state = 'failed' AND coalesce(last_tried_at, created_at) > now() - interval '1 day')::int,
         min(created_at) FILTER (WHERE state = 'waiting') FROM mail WHERE state IN ('waiting', 'failed')
  UNION ALL
  SELECT 'sync_items', count(*)::int, 0, min(created_at) FROM sync_item WHERE state = 'waiting'`;

const NIGHT = `
  SELECT r.business_day, r.state, r.started_at,
         (SELECT jsonb_agg(jsonb_build_object('name', s.name, 'seconds', s.seconds) ORDER BY s.position)
            FROM nightly_step s WHERE s.run_id = r.id AND s.seconds IS NOT NULL) AS steps
    FROM nightly_run r ORDER BY r.business_day DESC LIMIT 1`;

const HOUSE = `
  SELECT (SELECT post_held_since IS NOT NULL FROM house) AS held, (SELECT backed_up_at FROM house) AS backed_up_at,
         (SELECT max(migration_name) FROM _prisma_migrations WHERE finished_at IS NOT NULL) AS last_migration`;

export async function readGauges(pool: Pool, now: Date): Promise<Gauges> {
  const one = async (text: string, values: unknown[] = []) => (await pool.query(text, values)).rows[0] ?? {};
  const counts = await one(COUNTS);
  const business = await one(BUSINESS, [now]);
  const house = await one(HOUSE);
  const [night] = (await pool.query(NIGHT)).rows;
  const waiting = (await pool.query(BACKLOG)).rows;
  const at = (instant: string | null): Date | null => (instant === null ? null : new Date(instant));
  const backlog = (name: string) => {
    const row = waiting.find((each) => each.name === name);
    const oldest = row?.oldest ? Math.max(0, now.getTime() - Date.parse(row.oldest)) / 1000 : 0;
    return { waiting: Number(row?.waiting), failed: Number(row?.failed), oldestS: oldest };
  };
  return {
    jobs: {
      waiting: counts.waiting,
      locked: counts.locked,
      failed: counts.failed,
      oldestS: counts.job_oldest_s,
    },
    night: night
      ? {
          businessDay: night.business_day,
          state: night.state,
          startedAt: at(night.started_at),
          stepSeconds: night.steps ?? [],
        }
      : null,
    unplaced: { orders: business.orders, oldestS: business.oldest_s },
    forecasts: { judged: business.judged, expected: business.expected, passed: business.passed },
    backlog: {
      events: backlog('events'),
      webhooks: backlog('webhooks'),
      mails: backlog('mails'),
      sync_items: backlog('sync_items'),
    },
    postHeld: house.held === true,
    backedUpAt: at(house.backed_up_at ?? null),
    databaseBytes: business.database_bytes,
    migrations: { applied: business.migrations, last: String(house.last_migration) },
  };
}

/** @param pools Of this process, by what they are for. */
export const poolGauges = (pools: Record<string, Pool>): Record<string, PoolGauge> =>
  Object.fromEntries(
    Object.entries(pools).map(([name, pool]) => [
      name,
      {
        busy: pool.totalCount - pool.idleCount,
        idle: pool.idleCount,
        most: pool.options.max ?? 0,
        waiting: pool.waitingCount,
        timeouts: timeoutsOf(pool),
      },
    ]),
  );
