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

/**
 * A technician's finding is of the crew the technician belongs to on the day of the work, or of none; the office may name any.
 *
 * @throws {Refused} `not-yours`
 */
export async function mayNameCrew(
  house: House,
  stores: Stores,
  actor: Actor,
  crewId: string | null,
  at: string,
): Promise<void> {
  if (crewId === null || isOffice(actor)) return;
  const day = house.zone.dayOf(new Date(at));
  if (actor.memberId !== null && (await stores.work.crewOf(actor.memberId, day)) === crewId) return;
  throw new Refused({
    code: 'not-yours',
    resource: 'crew',
    id: crewId,
    detail: `You are not of the crew ${crewId} on ${day}: leave crewId out, or name your own.`,
  });
}

const isOffice = (actor: Actor): boolean =>
  actor.roles.some((role) => role === 'dispatcher' || role === 'owner' || role === 'integration');

/**
 * Whether an order is the technician's to work on: on a route of the own crew, now or before it was planned anew; one the
 * technician was called out to; or, at a house of the own crew's route of that day, work that came of a visit and that
 * nobody has on a route yet. What may be worked on may be read.
 */
export async function worksOnOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  at: string,
): Promise<boolean> {
  if (isOffice(actor)) return true;
  if (actor.memberId === null) return false;
  const isTheirs = await stores.work.isOrderFor(actor.memberId, String(order['id']));
  return isTheirs && (await worksOn(house, stores, actor, String(order['site_id']), at));
}

/** @throws {Refused} `not-yours` where `worksOnOrder` says no. */
export async function mayWorkOnOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  at: string,
): Promise<void> {
  if (await worksOnOrder(house, stores, actor, order, at)) return;
  await mayWorkOn(house, stores, actor, String(order['site_id']), at);
  throw new Refused({
    code: 'not-yours',
    resource: 'work_order',
    id: String(order['id']),
    detail:
      'The order is on no route of your crew, no call-out of yours, and did not come of a visit. Ask the office to put it on your route.',
  });
}
