import { randomBytes } from 'node:crypto';
import type { KeyStore } from '../actions/house.js';
import type { Actor, Row } from '../actions/ports.js';
import type { Role } from '../domain/words.js';
import type { Queryable } from './rowStore.js';

/** A person's keys end with the person's time here. */
const MAY_COME_IN = `
  SELECT k.id, k.name, k.member_id, k.roles FROM access_key k LEFT JOIN member m ON m.id = k.member_id
   WHERE k.revoked_at IS NULL AND (k.expires_at IS NULL OR k.expires_at > now()) AND m.archived_on IS NULL`;

const actorOf = (row: Row): Actor => ({
  keyId: String(row['id']),
  name: String(row['name']),
  roles: row['roles'] as Role[],
  memberId: row['member_id'] === null ? null : String(row['member_id']),
});

export function makeKeyStore(q: Queryable): KeyStore {
  return {
    async actorByHash(hash) {
      const { rows } = await q.query(`${MAY_COME_IN} AND k.hash = $1`, [hash]);
      return rows[0] ? actorOf(rows[0]) : null;
    },
    async standing(keyIds) {
      if (keyIds.length === 0) return new Map();
      const { rows } = await q.query(`${MAY_COME_IN} AND k.id = ANY ($1)`, [keyIds]);
      return new Map(rows.map((row) => [String(row['id']), actorOf(row)]));
    },
    async used(keyId) {
      // Not a change anyone made: once a minute is enough, and the version stays.
      await q.query(
        `UPDATE access_key SET last_used_at = now() WHERE id = $1 AND (last_used_at IS NULL OR last_used_at < now() - interval '1 minute')`,
        [keyId],
      );
    },
    async secretOf(purpose) {
      const kept = async () =>
        (await q.query('SELECT value FROM house_secret WHERE name = $1', [purpose])).rows[0];
      const made = async () => {
        await q.query('INSERT INTO house_secret (name, value) VALUES ($1, $2) ON CONFLICT DO NOTHING', [
          purpose,
          randomBytes(32),
        ]);
        return kept();
      };
      return ((await kept()) ?? (await made()))?.['value'] as Buffer;
    },
  };
}
