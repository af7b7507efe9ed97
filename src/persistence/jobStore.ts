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
  };
}
