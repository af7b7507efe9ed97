import { isCalledOut } from '../domain/work/onCall.js';
import type { House, Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { Refused } from './problems.js';

/** Whose a finding is: the person's, whatever key it came with; the key's where that belongs to no person. */
export const authorId = (actor: Actor): string => actor.memberId ?? actor.keyId;

/**
 * The office may write on any site. A technician may on the sites of the own crew's route, and on those the
 * technician was called out to, judged on the day of the work: a post that comes in days later counts as of then.
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
  if (actor.memberId === null) return false;
  const day = house.zone.dayOf(new Date(at));
  if (await stores.work.isOnRouteOf(actor.memberId, day, siteId)) return true;
  const callOuts = await stores.work.callOutsTo(actor.memberId, siteId);
  return callOuts.some((row) => isCalledOut(callOutOf(row), Date.parse(at)));
}

const callOutOf = (row: Row) => ({
  calledAt: Date.parse(String(row['called_at'])),
  backAt: row['back_at'] === null ? null : Date.parse(String(row['back_at'])),
});

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
    detail: `The site is not on a route of your crew on ${house.zone.dayOf(new Date(at))}, and no call-out of yours to it is on record then.`,
  });
}
