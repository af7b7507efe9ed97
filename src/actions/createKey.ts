import { createHash, randomBytes } from 'node:crypto';
import { v7 as newId } from 'uuid';
import type { Role } from '../domain/words.js';
import type { Stores } from './house.js';
import type { Row } from './ports.js';

export interface NewKey {
  name: string;
  roles: readonly Role[];
  memberId: string | null;
  expiresAt: string | null;
}

/** Mints a bearer key of 256 random bits; only its SHA-256 is kept, so the text is shown this once. */
export async function createKey(stores: Stores, wanted: NewKey): Promise<{ row: Row; key: string }> {
  const key = `ob_${randomBytes(32).toString('base64url')}`;
  const row = await stores.rows.insert('access_key', {
    id: newId(),
    name: wanted.name,
    roles: [...wanted.roles],
    member_id: wanted.memberId,
    expires_at: wanted.expiresAt,
    hash: createHash('sha256').update(key).digest(),
  });
  return { row, key };
}
