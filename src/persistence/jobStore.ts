import type { JobStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

/**
 * SQL: whether a job of this key waits, or was begun within the minute. One that was begun earlier and whose record
 * still waits belongs to a process that is gone.
 *
 * @param key SQL of the key.
 */
export const liveJob = (key: string): string =>
  `EXISTS (SELECT FROM graphile_worker.jobs j WHERE j.key = ${key} AND j.attempts < j.max_attempts
             AND (j.locked_at IS NULL OR j.locked_at > now() - interval '1 minute'))`;

/**
 * SQL: whether somebody still waits for what a job was to do. One whose key a later job took over, or whose record came to
 * its end by another, is history; so is a letter to an owner of more than a day ago.
 *
 * @param j Alias of the job.
 */
export const jobMatters = (j: string): string =>
  `${j}.key IS NOT NULL
     AND NOT EXISTS (SELECT FROM nightly_run r WHERE ${j}.key = 'night:' || r.business_day AND r.state = 'done')
     AND NOT EXISTS (SELECT FROM what_if w WHERE ${j}.key = 'what_if:' || w.id AND w.state IN ('done', 'failed'))
     AND NOT EXISTS (SELECT FROM plan p WHERE ${j}.key = 'plan:' || p.id AND p.state <> 'searching')
     AND NOT EXISTS (SELECT FROM webhook_delivery d WHERE ${j}.key = 'webhook:' || d.id AND d.state <> 'waiting')
     AND NOT EXISTS (SELECT FROM mail m WHERE ${j}.key = 'mail:' || m.id AND m.state <> 'waiting')
     AND CASE WHEN ${j}.key LIKE 'owner_mail:%'
              THEN EXISTS (SELECT FROM event e WHERE e.id = split_part(${j}.key, ':', 2)::uuid AND e.created_at > business_now() - interval '1 day')
              ELSE true END
     AND (${j}.key NOT LIKE 'post:%' OR EXISTS (SELECT FROM event e WHERE e.posted_at IS NULL))`;

export function makeJobStore(q: Queryable): JobStore {
  return {
    async add(task, payload, key, priority = 0) {
      await q.query(
        'SELECT 1 FROM graphile_worker.add_job($1::text, payload := $2::json, job_key := $3::text, priority := $4::int, max_attempts := 3)',
        [task, JSON.stringify(payload), key, priority],
      );
    },
    async isAlive(key) {
      const { rows } = await q.query(`SELECT ${liveJob('$1')} AS alive`, [key]);
      return rows[0]?.alive === true;
    },
    async forgetDead() {
      const { rowCount } = await q.query(
        `SELECT FROM graphile_worker.complete_jobs(ARRAY(
           SELECT j.id FROM graphile_worker.jobs j
            WHERE j.attempts >= j.max_attempts AND j.locked_at IS NULL AND NOT (${jobMatters('j')})))`,
      );
      return rowCount ?? 0;
    },
  };
}
