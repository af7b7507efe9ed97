import type { House, Stores } from './house.js';
import type { Actor } from './ports.js';
import { Refused } from './problems.js';

/**
 * The office may write on any site. A technician may on the sites of the own crew's route, judged on the day of
 * the work: a post that comes in days later counts as of then.
 *
 * @throws {Refused} `not-yours`.
 */
export async function mayWorkOn(
  house: House,
  stores: Stores,
  actor: Actor,
  siteId: string,
  at: string,
): Promise<void> {
  if (actor.roles.some((role) => role === 'dispatcher' || role === 'owner' || role === 'integration')) return;
  const day = house.zone.dayOf(new Date(at));
  if (actor.memberId !== null && (await stores.work.isOnRouteOf(actor.memberId, day, siteId))) return;
  throw new Refused({
    code: 'not-yours',
    resource: 'site',
    id: siteId,
    detail: `The site is not on a route of your crew on ${day}.`,
  });
}
