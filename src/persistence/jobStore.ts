import type { JobStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeJobStore(q: Queryable): JobStore {
  return {
    async add(task, payload, key, priority = 0) {
      await q.query(
        'SELECT 1 FROM graphile_worker.add_job($1::text, payload := $2::json, job_key := $3::text, priority := $4::int, max_attempts := 3)',
        [task, JSON.stringify(payload), key, priority],
      );
    },
  };
}
