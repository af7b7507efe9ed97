import { createHash, randomBytes } from 'node:crypto';
import { v7 as newId } from 'uuid';
import type { Role } from '../domain/words.js';
import type { House, Stores } from './house.js';
import type { Row } from './ports.js';
import { ruleBroken } from './problems.js';

export interface NewKey {
  name: string;
  roles: readonly Role[];
  memberId: string | null;
  expiresAt: string | null;
}

/**
 * Whose key it is decides what it may do on site, and with whom it ends.
 *
 * @throws {Refused} `rule-broken`: a technician's key of nobody or of somebody who has left, an end that has passed.
 */
export async function refuseUnfitKey(house: House, stores: Stores, wanted: NewKey): Promise<void> {
  const { roles, memberId, expiresAt } = wanted;
  if (roles.includes('technician') && memberId === null)
    throw ruleBroken(
      'key',
      '#/memberId',
      'is missing: a technician may do what the own crew does',
      'the id of the member whose key it is',
    );
  const member = memberId === null ? null : await stores.rows.get('member', memberId);
  if (member !== null && member['archived_on'] !== null)
    throw ruleBroken(
      'key',
      '#/memberId',
      `${String(member['name'])} has left`,
      'a member who is not archived',
    );
  if (expiresAt !== null && Date.parse(expiresAt) <= house.clock.now().getTime())
    throw ruleBroken('key', '#/expiresAt', `${expiresAt} has passed`, 'an instant to come, or none');
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
