import type { Stores } from './house.js';
import type { Actor } from './ports.js';
import { Refused } from './problems.js';

/**
 * The office sees every record; a technician those of the sites of the own crew's routes, past ones too, and of
 * the own call-outs. What may not be seen is not there.
 *
 * @param siteId Of the record; null: of no site, or not known.
 * @throws {Refused} `not-found`.
 */
export async function maySee(
  stores: Stores,
  actor: Actor,
  siteId: string | null,
  record: { resource: string; id: string },
): Promise<void> {
  if (actor.roles.some((role) => role === 'dispatcher' || role === 'owner' || role === 'integration')) return;
  const isOwn =
    actor.memberId !== null && siteId !== null && (await stores.work.isSiteOf(actor.memberId, siteId));
  if (!isOwn) throw new Refused({ code: 'not-found', ...record });
}
