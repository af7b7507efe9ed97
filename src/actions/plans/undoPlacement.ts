import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { weekdayText } from '../../domain/calendar/saidDay.js';
import { recordingChanges } from '../desk/publishing.js';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused } from '../problems.js';
import { crewDayId } from './crewDays.js';
import { consequenceOf, type DayBook, openDays, toldRoute } from './dayRoutes.js';
import { type ByHand, keepRoutes, type Sequence } from './keepRoutes.js';
import { byHoursThatPass, openOnCall } from './openOnCall.js';
import { brokenPromises, type Placed } from './placeOrder.js';
import type { Said, TravelTable } from './planTools.js';

/**
 * Puts the routes that a placement by hand touched back as they were before it, as a plan of its own, which can be
 * undone in turn.
 *
 * @throws {Refused} `not-found`; `clash` when the plan was not made by hand or something has happened since;
 * `rule-broken` where the old sequence cannot be driven any more.
 */
export async function undoPlacement(
  house: House,
  stores: Stores,
  travel: TravelTable,
  actor: Pick<Actor, 'name'>,
  planId: string,
): Promise<Placed> {
  const asked = await stores.rows.get('plan', planId);
  if (!asked) throw new Refused({ code: 'not-found', resource: 'plan', id: planId });
  const byHand = asked['by_hand'] as ByHand | null;
  if (!byHand) throw notNow('Only what was placed by hand can be undone: accept another plan instead.');
  const days = byHand.before.map(({ day }) => day).sort();
  const left = await leftStopOf(stores, byHand);
  await stores.plans.acquireDays(left === null ? days : [...days, left.day]);
  const plan = (await stores.rows.lock('plan', planId)) ?? asked;
  const today = house.zone.dayOf(house.clock.now());
  const [first = today] = days;
  // A night goes on past midnight.
  if (first < (byHand.onCall ? addDays(today, -1) : today)) throw notNow(`${first} is over.`);
  await refuseReplaced(stores, plan, byHand);
  const book = byHand.onCall
    ? await openOnCall(house, stores, travel, byHand.workOrderId)
    : await openDays(house, stores, travel, {
        fromDay: first,
        toDay: days.at(-1) ?? first,
        alsoOrder: byHand.workOrderId,
      });
  const driven = byHand.onCall ? byHoursThatPass(house) : house;
  for (const route of byHand.after) await refuseChanged(stores, book, route);
  await refusePlacedSince(stores, byHand);

  const told = new Map(
    byHand.before.map(({ crewId, day, workOrderIds }) => [
      crewDayId(crewId, day),
      toldRoute(driven, book, crewId, day, workOrderIds),
    ]),
  );
  const consequences = byHand.before.map(({ crewId, day }) => {
    const route = told.get(crewDayId(crewId, day));
    if (!route) throw new RangeError(`no route of ${crewId} on ${day}`);
    return consequenceOf(driven, book, crewId, day, route);
  });
  const { workOrderId } = byHand;
  const goesBack = left !== null && (await stillStands(house, stores, left));
  const off = takenOff(byHand).filter((id) => !(goesBack && id === workOrderId));
  const toPhone = await brokenPromises(driven, stores, book, told, off, { workOrderId, by: actor.name });
  const because = undoneText(String(plan['because']));
  const undoneBy = await keepRoutes(driven, stores, actor, book, told, {
    workOrderId,
    because,
    unplaced: off.map((id) => ({
      workOrderId: id,
      code: 'undone',
      facts: { planId, by: actor.name },
      text: `waits again: ${because} (${actor.name})`,
      cheapestPlace: null,
    })),
  });
  if (goesBack) await putBack(house, stores, { by: actor.name, because }, left);
  const order = await stores.rows.update('work_order', workOrderId, {
    ...(goesBack ? { state: 'placed' } : {}),
    updated_at: house.clock.now().toISOString(),
  });
  return {
    planId: undoneBy,
    version: Number(order?.['version']),
    consequences,
    displaced: off,
    toPhone,
    warnings: [
      ...book.warnings,
      ...consequences.flatMap(({ warnings }) => warnings),
      ...(left !== null && !goesBack ? [oldPlaceGone(workOrderId, left)] : []),
    ],
  };
}

/** The place on a shift's route that an order left for whoever is on call. */
interface LeftStop {
  id: string;
  routeId: string;
  crewName: string;
  day: IsoDate;
  startsAt: string;
}

async function leftStopOf(stores: Stores, { leftStopId }: ByHand): Promise<LeftStop | null> {
  const stop = leftStopId === undefined ? null : await stores.rows.get('stop', leftStopId);
  if (stop === null) return null;
  const route = (await stores.rows.get('route', String(stop['route_id']))) ?? {};
  const crew = await stores.rows.get('crew', String(route['crew_id']));
  return {
    id: String(stop['id']),
    routeId: String(route['id']),
    crewName: String(crew?.['name']),
    day: String(route['day']),
    startsAt: String(stop['starts_at']),
  };
}

/** Nobody has been given its time since: the crew stands still in it. */
async function stillStands(house: House, stores: Stores, { routeId, startsAt }: LeftStop): Promise<boolean> {
  const route = await stores.rows.lock('route', routeId);
  if (route?.['state'] !== 'live' || route['closed_at'] !== null) return false;
  return Date.parse(startsAt) > house.clock.now().getTime();
}

const putBack = (
  house: House,
  stores: Stores,
  change: { by: string; because: string },
  { id }: LeftStop,
): Promise<unknown> =>
  recordingChanges(house, stores, change, () => stores.rows.update('stop', id, { live: true }));

const oldPlaceGone = (workOrderId: string, { crewName, day }: LeftStop): Said => ({
  code: 'old_place_gone',
  facts: { workOrderId, day },
  text: `it waits: the route of ${crewName} on ${weekdayText(day).replaceAll('\u00A0', ' ')} that it had left is over, closed or planned anew; see its places`,
});

const UNDONE = 'undone: ';
const undoneText = (because: string): string =>
  because.startsWith(UNDONE) ? because.slice(UNDONE.length) : `${UNDONE}${because}`;

const notNow = (detail: string, remedy = 'Move orders by hand instead.'): Refused =>
  new Refused({
    code: 'clash',
    constraint: 'plan_undoing',
    detail,
    remedy,
  });

/** Orders that stood on the routes after it and did not before: they wait again. */
function takenOff({ before, after }: ByHand): string[] {
  const stood = new Set(before.flatMap(({ workOrderIds }) => workOrderIds));
  return after.flatMap(({ workOrderIds }) => workOrderIds.filter((id) => !stood.has(id)));
}

/** Crews must still drive what the placement made, not a later plan. */
async function refuseReplaced(stores: Stores, plan: Row, { after, onCall }: ByHand): Promise<void> {
  for (const { crewId, day, workOrderIds } of after) {
    const [route] = await stores.rows.all('route', [
      { column: 'crew_id', is: '=', value: crewId },
      { column: 'day', is: '=', value: day },
      { column: 'state', is: '=', value: 'live' },
      { column: 'on_call', is: '=', value: onCall === true },
      ...(onCall ? [{ column: 'closed_at', is: 'null' as const }] : []),
    ]);
    const crew = String((await stores.rows.get('crew', crewId))?.['name']);
    if (route && route['closed_at'] !== null) throw notNow(`The day of ${crew} on ${day} is closed.`);
    if (route?.['plan_id'] === plan['id'] || (!route && workOrderIds.length === 0)) continue;
    const later = route && (await stores.rows.get('plan', String(route['plan_id'])));
    if (!later) throw notNow(`The route of ${crew} on ${day} is gone since.`);
    const by = String(later['accepted_by']);
    if (later['because'] === undoneText(String(plan['because'])))
      throw notNow(`It has been undone already (${by}).`);
    throw notNow(
      `The route of ${crew} on ${day} has been changed since (${String(later['because'])}, ${by}).`,
      'Undo that first, or move orders by hand.',
    );
  }
}

/** Nothing of the routes may have been started, done, withdrawn or taken off since. */
async function refuseChanged(
  stores: Stores,
  book: DayBook,
  { crewId, day, workOrderIds }: Sequence,
): Promise<void> {
  const ahead = book.ahead.get(crewDayId(crewId, day)) ?? [];
  const gone = workOrderIds.filter((id) => !ahead.includes(id));
  if (gone.length > 0) throw notNow(await whatHappened(stores, gone[0] ?? ''));
}

const SINCE: Record<string, string> = {
  under_way: 'has been started since',
  done: 'is done',
  withdrawn: 'has been withdrawn since',
};

async function whatHappened(stores: Stores, orderId: string): Promise<string> {
  const order = await stores.rows.get('work_order', orderId);
  return `Order ${String(order?.['number'])} ${SINCE[String(order?.['state'])] ?? 'has been taken off the route since'}.`;
}

/** What gave way must still wait, and not stand elsewhere. */
async function refusePlacedSince(stores: Stores, { before, after }: ByHand): Promise<void> {
  const stands = new Set(after.flatMap(({ workOrderIds }) => workOrderIds));
  for (const id of before.flatMap(({ workOrderIds }) => workOrderIds.filter((each) => !stands.has(each)))) {
    const order = await stores.rows.get('work_order', id);
    if (order?.['state'] === 'wanted') continue;
    if (order?.['state'] !== 'placed') throw notNow(await whatHappened(stores, id));
    throw notNow(`Order ${String(order['number'])}, which gave way, has been given another place since.`);
  }
}
