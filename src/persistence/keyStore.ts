import type { KeyStore } from '../actions/house.js';
import type { Role } from '../domain/words.js';
import type { Queryable } from './rowStore.js';

export function makeKeyStore(q: Queryable): KeyStore {
  return {
    async actorByHash(hash) {
      const { rows } = await q.query(
        `SELECT id, name, member_id, roles FROM access_key
          WHERE hash = $1 AND revoked_at IS NULL AND (expires_at IS NULL OR expires_at > now())`,
        [hash],
      );
      const row = rows[0];
      if (!row) return null;
      return {
        keyId: String(row['id']),
        name: String(row['name']),
        roles: row['roles'] as Role[],
        memberId: row['member_id'] === null ? null : String(row['member_id']),
      };
    },
    async used(keyId) {
      // Not a change anyone made: once a minute is enough, and the version stays.
      await q.query(
        `UPDATE access_key SET last_used_at = now() WHERE id = $1 AND (last_used_at IS NULL OR last_used_at < now() - interval '1 minute')`,
        [keyId],
      );
    },
  };
}
