import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { WorkOrderCause } from '../../domain/words.js';
import { mustCarry } from '../../domain/work/alongKit.js';
import type { CrewDayFacts } from '../../domain/work/crewDayFacts.js';
import { type Hindrance, hindrancesOf, type PlannedNeeds } from '../../domain/work/hindrances.js';
import { openHindrances, type PlannedGround } from '../../domain/work/openHindrances.js';
import { brokenPromise, type ToldVisit } from '../../domain/work/promiseKept.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { onTheClock } from './onTheClock.js';

/** A visit that stands on a route and can no longer be done there. */
export interface HinderedVisit {
  workOrderId: string;
  number: number;
  address: string;
  day: IsoDate;
  routeId: string;
  crewId: string;
  crewName: string;
  startsAt: string;
  /** Its crew was told of the day. */
  published: boolean;
  reasons: Hindrance[];
}

interface AheadVisit extends PlannedNeeds, PlannedGround {
  promise: ToldVisit | null;
  cause: WorkOrderCause;
  workOrderId: string;
  number: number;
  address: string;
}

/**
 * Visits ahead, from today on, that cannot be done where they stand: a season closed, kit out of service, too few
 * people, nobody at work, rest after a call-out, a precondition open again, a dig outside the life of its locate ticket,
 * a promise that the route breaks.
 *
 * @param recordId Only what this absence, call-out, closed season, holiday, promise or ticket is a cause of.
 */
export async function hinderedVisits(
  house: House,
  stores: Stores,
  fromDay: IsoDate,
  toDay: IsoDate,
  recordId?: string,
): Promise<HinderedVisit[]> {
  const today = house.zone.dayOf(house.clock.now());
  const from = fromDay < today ? today : fromDay;
  if (toDay < from) return [];
  const routes = await onTheClock(house, stores, await stores.desk.ahead(from, toDay));
  return routes.flatMap((route) => hinderedOn(route, recordId));
}

function hinderedOn(route: Row, recordId: string | undefined): HinderedVisit[] {
  const day = String(route['day']);
  return (route['visits'] as AheadVisit[]).flatMap((visit) => {
    const reasons = [
      ...hindrancesOf(route['crew_day'] as CrewDayFacts, { ...visit, kit: mustCarry(visit) }, day),
      ...openHindrances(visit, day),
      ...promiseHindrances(route, visit),
    ].filter(({ facts }) => recordId === undefined || facts.recordIds.includes(recordId));
    if (reasons.length === 0) return [];
    return {
      workOrderId: visit.workOrderId,
      number: visit.number,
      address: visit.address,
      day,
      routeId: String(route['route_id']),
      crewId: String(route['crew_id']),
      crewName: String(route['crew_name']),
      startsAt: new Date(visit.startsAt).toISOString(),
      published: route['published'] === true,
      reasons,
    };
  });
}

const promiseHindrances = (route: Row, visit: { promise: ToldVisit | null; startsAt: string }): Hindrance[] =>
  brokenPromise(
    visit.promise,
    {
      day: String(route['day']),
      seconds: (Date.parse(visit.startsAt) - Date.parse(String(route['midnight_at']))) / 1000,
    },
    String(route['crew_name']),
    route['units'] as UnitSystem,
  );

/** The same of some orders alone, on whatever day they stand. */
export async function hinderedOrders(
  house: House,
  stores: Stores,
  orderIds: readonly string[],
): Promise<HinderedVisit[]> {
  const today = house.zone.dayOf(house.clock.now());
  const all = await hinderedVisits(house, stores, today, LAST_DAY);
  return all.filter(({ workOrderId }) => orderIds.includes(workOrderId));
}

const LAST_DAY = '9999-12-31';

/** The same for a stop of a route (`onTheClock`) as its crew reads it; nothing of what is done or under way. */
export function stopHindrances(route: Row, stop: Row): Hindrance[] {
  const isAhead = stop['order_state'] === 'wanted' || stop['order_state'] === 'placed';
  if (!isAhead || stop['live'] !== true || route['closed_at'] !== null) return [];
  const tasks = (stop['tasks'] as Row[])
    .filter((task) => task['result'] === null)
    .map((task) => ({
      kind: task['kind'],
      lineKind: (task['line'] as Row | null)?.['kind'] ?? null,
    })) as PlannedNeeds['tasks'];
  const startsAt = String(stop['starts_at']);
  const cause = stop['cause'] as WorkOrderCause;
  const kit = mustCarry({ kit: stop['kit'] as PlannedNeeds['kit'], cause, tasks });
  const visit = { startsAt, kit, people: Number(stop['people']), tasks };
  const day = String(route['day']);
  return [
    ...hindrancesOf(route['crew_day'] as CrewDayFacts, visit, day),
    ...openHindrances(groundOf(stop), day),
    ...promiseHindrances(route, { startsAt, promise: stop['promise'] as ToldVisit | null }),
  ];
}

const groundOf = (stop: Row): PlannedGround => ({
  startsAt: String(stop['starts_at']),
  waitsFor: stop['waits_for'] as PlannedGround['waitsFor'],
  ticket: stop['locate_ticket'] as PlannedGround['ticket'],
});

/** What keeps somebody called out from the work: no crew's kit and people are known for it. */
export const callOutHindrances = (callOut: Row, day: IsoDate): Hindrance[] =>
  callOut['order_state'] === 'wanted' || callOut['order_state'] === 'placed'
    ? openHindrances(groundOf(callOut), day)
    : [];

/** One sentence for the head of a route. */
export const hinderedText = (number: unknown, address: unknown, reasons: readonly Hindrance[]): string =>
  `order ${String(number)}, ${String(address)}, cannot be done as planned: ${reasons.map(({ text }) => text).join('; ')}`;
