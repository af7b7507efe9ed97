import { type Claim, type ClaimStore, NOBODY } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeClaimStore(q: Queryable): ClaimStore {
  return {
    async take(caller, key, fingerprint): Promise<Claim> {
      // A second caller waits here on the unique index until the first commits or rolls back.
      const { rowCount } = await q.query(
        `INSERT INTO idempotency_key (caller, key, fingerprint) VALUES ($1, $2, $3)
         ON CONFLICT (caller, key) DO UPDATE SET fingerprint = excluded.fingerprint, status = NULL, headers = NULL, body = NULL, created_at = now()
           WHERE idempotency_key.created_at < now() - interval '24 hours' AND idempotency_key.caller <> '${NOBODY}'`,
        [caller, key, fingerprint],
      );
      if (rowCount === 1) return { kind: 'taken' };
      const { rows } = await q.query('SELECT * FROM idempotency_key WHERE caller = $1 AND key = $2', [
        caller,
        key,
      ]);
      const held = rows[0];
      if (!held || !(held['fingerprint'] instanceof Buffer) || !fingerprint.equals(held['fingerprint'])) {
        return { kind: 'other-content' };
      }
      if (held['status'] === null) return { kind: 'same-content' };
      return {
        kind: 'answered',
        status: Number(held['status']),
        headers: (held['headers'] ?? {}) as Record<string, string>,
        body: String(held['body']),
      };
    },

    async answer(caller, key, status, headers, body) {
      await q.query(
        'UPDATE idempotency_key SET status = $3, headers = $4, body = $5 WHERE caller = $1 AND key = $2',
        [caller, key, status, JSON.stringify(headers), body],
      );
    },

    async forgetOld() {
      const { rowCount } = await q.query(
        `DELETE FROM idempotency_key WHERE created_at < now() - interval '24 hours' AND caller <> '${NOBODY}'`,
      );
      return rowCount ?? 0;
    },

    async forgetSettled(days) {
      const { rowCount } = await q.query(
        `UPDATE conflict SET content = 'null' WHERE settled_at < business_now() - make_interval(days => $1) AND content <> 'null'`,
        [days],
      );
      return rowCount ?? 0;
    },
  };
}
