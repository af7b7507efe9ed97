import type { House, Stores } from './house.js';
import type { Actor } from './ports.js';
import { Refused } from './problems.js';

/** Whose a finding is: the person's, whatever key it came with; the key's where that belongs to no person. */
export const authorId = (actor: Actor): string => actor.memberId ?? actor.keyId;

/**
 * The office may write on any site. A technician may on the sites of the own crew's route, judged on the day of
 * the work: a post that comes in days later counts as of then.
 */
export async function worksOn(
  house: House,
  stores: Stores,
  actor: Actor,
  siteId: string,
  at: string,
): Promise<boolean> {
  if (actor.roles.some((role) => role === 'dispatcher' || role === 'owner' || role === 'integration'))
    return true;
  const day = house.zone.dayOf(new Date(at));
  return actor.memberId !== null && (await stores.work.isOnRouteOf(actor.memberId, day, siteId));
}

/** @throws {Refused} `not-yours` where `worksOn` says no. */
export async function mayWorkOn(
  house: House,
  stores: Stores,
  actor: Actor,
  siteId: string,
  at: string,
): Promise<void> {
  if (await worksOn(house, stores, actor, siteId, at)) return;
  throw new Refused({
    code: 'not-yours',
    resource: 'site',
    id: siteId,
    detail: `The site is not on a route of your crew on ${house.zone.dayOf(new Date(at))}.`,
  });
}
