import { addDays, daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { ToldRoute } from '../../domain/routing/asTold.js';
import { cheapestPlaces, soonestPlace } from '../../domain/routing/cheapestPlaces.js';
import type { Place } from '../../domain/routing/plan.js';
import type { Reason } from '../../domain/routing/reasons.js';
import { publishRoute } from '../desk/publishing.js';
import type { House, Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { byText, callerText } from './calls.js';
import { crewDayId } from './crewDays.js';
import {
  type Consequence,
  consequenceOf,
  crewsBehind,
  type DayBook,
  notWorking,
  openDays,
  relieved,
  soundRoute,
  toldRoute,
} from './dayRoutes.js';
import { displacedOrders } from './displaced.js';
import { keepRoutes } from './keepRoutes.js';
import { knownCrew } from './knownCrew.js';
import type { OfferedPlace } from './offeredPlace.js';
import { onCallPlaces } from './onCallPlaces.js';
import { byHoursThatPass, isForOnCall, openOnCall } from './openOnCall.js';
import type { Said, TravelTable } from './planTools.js';
import { liveStart } from './problem.js';
import { placeFacts, soonestText } from './propose.js';
import { type PlannedPlace, type ToPhone, whomToPhone } from './toPhone.js';

const PLACES = 3;

export interface Offer {
  places: OfferedPlace[];
  /** Where there is no place: the reason that a plan would give. */
  nowhere: Said | null;
  /** Of the order: what a placement is made from. */
  version: number;
  warnings: readonly Said[];
}

/**
 * The cheapest places of an order among what crews drive from today on, at most one a crew and day. Where there is
 * no room, up to three stops in a row give way. Where no shift comes in time for a call, whoever is on call stands first.
 */
export async function offerPlaces(
  house: House,
  stores: Stores,
  travel: TravelTable,
  workOrderId: string,
  days: number,
): Promise<Offer> {
  const order = await openOrder(stores, workOrderId);
  const inShifts = await shiftPlaces(house, stores, travel, order, days);
  const respondBy = order['respond_by'] === null ? null : Date.parse(String(order['respond_by']));
  const inTime = inShifts.places.some(({ startsAt }) => Date.parse(startsAt) <= (respondBy ?? Infinity));
  if (respondBy === null || inTime || inShifts.isOutside) return inShifts.offer;
  const book = await openOnCall(house, stores, travel, workOrderId);
  const row = book.question.books.orders.find((each) => each['id'] === workOrderId);
  if (!isForOnCall(house, row)) return inShifts.offer;
  const { places, cannot } = onCallPlaces(byHoursThatPass(house), book, workOrderId);
  const { offer } = inShifts;
  return {
    ...offer,
    nowhere: places.length > 0 ? null : offer.nowhere,
    warnings: [...offer.warnings, ...cannot],
    places: [...places, ...offer.places].slice(0, PLACES),
  };
}

async function shiftPlaces(
  house: House,
  stores: Stores,
  travel: TravelTable,
  order: Row,
  days: number,
): Promise<{ offer: Offer; places: OfferedPlace[]; isOutside: boolean }> {
  const workOrderId = String(order['id']);
  const version = Number(order['version']);
  const today = house.zone.dayOf(house.clock.now());
  const book = await openDays(house, stores, travel, {
    fromDay: today,
    toDay: addDays(today, days - 1),
    alsoOrder: workOrderId,
  });
  const outside = outsideOf(book, workOrderId);
  if (outside)
    return {
      places: [],
      isOutside: true,
      offer: { places: [], nowhere: outside, version, warnings: book.warnings },
    };
  // What cannot wait is not kept from a crew because it is late: what that one cannot reach gives way.
  const cannotWait = order['respond_by'] !== null;
  const { book: drivable, givesWay } = cannotWait
    ? relieved(book)
    : { book, givesWay: new Map<string, readonly string[]>() };
  const only = onlyLive(drivable, workOrderId);
  const start = liveStart(book.question).map((route) => ({
    ...route,
    orderIds: drivable.ahead.get(route.crewDayId) ?? route.orderIds,
  }));
  const { places: all, nowhere } = cheapestPlaces(only, start, workOrderId, only.crewDays.length);
  const found = soundPlaces(drivable, workOrderId, all, PLACES).map(({ place, told }) => {
    const facts = placeFacts(house, book.question, place);
    const late = givesWay.get(crewDayId(facts.crewId, facts.day)) ?? [];
    return { facts: { ...facts, displaces: [...facts.displaces, ...late] }, told };
  });
  const behind = crewsBehind(book, cannotWait);
  const names = await stores.plans.orderNames(found.flatMap(({ facts }) => facts.displaces));
  const promised = new Set(book.question.promises.map((each) => each.workOrderId));
  const soonest = found.length > 0 || !cannotWait ? null : soonestPlace(only, start, workOrderId);
  const places = found.map(({ facts: { displaces, ...facts }, told }) => ({
    ...facts,
    onCall: false,
    crewName: String(book.question.books.crews.find((row) => row['id'] === facts.crewId)?.['name']),
    displaces: displacedOrders(house, displaces, names, (id) => promised.has(id)),
    consequence: consequenceOf(house, book, facts.crewId, facts.day, told, displaces),
  }));
  const why = saidOf(nowhere) ?? behind[0] ?? null;
  return {
    places,
    isOutside: false,
    offer: {
      version,
      nowhere: found.length > 0 ? null : inTime(house, book, order, soonest, why),
      warnings: [...book.warnings, ...behind],
      places,
    },
  };
}

/** The first places whose route can be driven with all its stops in time, as crews have them now. */
export function soundPlaces(
  book: DayBook,
  workOrderId: string,
  places: readonly Place[],
  count: number,
): { place: Place; told: ToldRoute }[] {
  const sound: { place: Place; told: ToldRoute }[] = [];
  for (const place of places) {
    if (sound.length === count) break;
    const day = book.question.days[place.day] ?? '';
    const told = soundRoute(book, place.crewId, day, withOrder(book, place.crewId, day, workOrderId, place));
    if (told) sound.push({ place, told });
  }
  return sound;
}

/** Why a call has no place: with its time, where somebody could be soonest, and whom to phone. */
function inTime(
  house: House,
  book: DayBook,
  order: Row,
  soonest: Place | null,
  why: Said | null,
): Said | null {
  const row = book.question.books.orders.find((each) => each['id'] === order['id']);
  if (!row || row['respond_by'] === null) return why;
  const caller = callerText(row);
  const facts = soonest && placeFacts(house, book.question, soonest);
  return {
    code: 'no_crew_in_time',
    facts: { ...why?.facts, ...(why ? { because: why.code } : {}), soonest: facts },
    text: `no crew can be there by ${byText(house, row)}${why ? ` (${why.text})` : ''}${soonestText(house, book.question, facts)}; phone ${caller ?? 'the client'}`,
  };
}

const saidOf = (reason: Reason | null): Said | null =>
  reason && { code: reason.code, facts: { ...reason.facts }, text: reason.text };

/** Orders nobody drives to are no part of the question: only the new one looks for a place, after what it follows. */
export function onlyLive({ problem, ahead }: DayBook, workOrderId: string) {
  const own = problem.orders.find(({ id }) => id === workOrderId);
  const wanted = new Set([
    workOrderId,
    ...[...ahead.values()].flat(),
    ...(own?.follows ?? []).map(({ orderId }) => orderId),
  ]);
  const orders = problem.orders.filter(({ id }) => wanted.has(id));
  const kept = new Set(orders.map(({ id }) => id));
  return {
    ...problem,
    orders: orders.map((order) => ({
      ...order,
      follows: order.follows.filter(({ orderId }) => kept.has(orderId)),
    })),
  };
}

export function withOrder(
  { ahead }: DayBook,
  crewId: string,
  day: IsoDate,
  workOrderId: string,
  place: { afterOrderId: string | null; displaces: readonly string[] },
): string[] {
  const rest = (ahead.get(crewDayId(crewId, day)) ?? []).filter(
    (id) => id !== workOrderId && !place.displaces.includes(id),
  );
  const at = place.afterOrderId === null ? 0 : rest.indexOf(place.afterOrderId) + 1;
  if (place.afterOrderId !== null && at === 0)
    throw new RangeError(`order ${place.afterOrderId} is not ahead on the route of ${crewId} on ${day}`);
  return [...rest.slice(0, at), workOrderId, ...rest.slice(at)];
}

export function outsideOf({ question }: DayBook, workOrderId: string): Said | null {
  const outside = question.outside.find((each) => each.workOrderId === workOrderId);
  return outside ? { code: outside.code, facts: outside.facts, text: outside.text } : null;
}

export interface Placing {
  crewId: string;
  day: IsoDate;
  /** Out of its shift: who is on call drives there, and the crew is told at once. */
  onCall: boolean;
  /** Null: first of what is still ahead. */
  afterWorkOrderId: string | null;
  /** Orders of that route that give way. */
  displaces: readonly string[];
  /** Look at the consequences only. */
  tryOnly: boolean;
}

export interface Placed {
  planId: string | null;
  /** Of the order, after the placement. */
  version: number;
  consequences: Consequence[];
  displaced: string[];
  toPhone: ToPhone[];
  warnings: readonly Said[];
}

/**
 * Places an order, or moves it, where a person wants it: one plan for the routes touched, accepted in the same
 * transaction. Late stops and overtime are the person's decision and come back as consequences.
 *
 * @throws {Refused} `rule-broken` where kit, people, tanks or a season forbid it, or the crew would still be out when
 * its next shift begins; what `checkVersion` throws: of people who place one order at once, one does.
 */
export async function placeOrder(
  house: House,
  stores: Stores,
  travel: TravelTable,
  actor: Pick<Actor, 'name'>,
  workOrderId: string,
  placing: Placing,
  checkVersion: (version: number) => void,
): Promise<Placed> {
  const today = house.zone.dayOf(house.clock.now());
  const firstDay = placing.onCall ? addDays(today, -1) : today;
  if (placing.day < firstDay)
    throw ruleBroken('placement', '#/day', `${placing.day} is over`, `a day from ${firstDay} on`);
  await knownCrew(stores, placing.crewId);
  const from = placing.onCall ? null : await liveDay(stores, workOrderId);
  const days = from === null ? [placing.day] : [placing.day, from];
  await stores.plans.acquireDays(days);
  const order = await openOrder(stores, workOrderId);
  if (!placing.tryOnly) checkVersion(Number(order['version']));
  const book = placing.onCall
    ? await openOnCall(house, stores, travel, workOrderId)
    : await openDays(house, stores, travel, {
        fromDay: [...days].sort()[0] ?? today,
        toDay: [...days].sort().at(-1) ?? today,
        alsoOrder: workOrderId,
      });
  const driven = placing.onCall ? byHoursThatPass(house) : house;
  if (placing.onCall) refuseOrdinary(house, book, workOrderId);
  const target = crewDayId(placing.crewId, placing.day);
  if (!book.question.crewDayOf.has(target))
    throw ruleBroken(
      'placement',
      '#/crewId',
      notWorking(book.question, placing.crewId, placing.day),
      placing.onCall ? 'a crew that the places offer' : 'a crew with a shift that day',
    );
  const outside = outsideOf(book, workOrderId);
  if (outside)
    throw ruleBroken(
      'placement',
      '#/day',
      `the order cannot be placed: ${outside.text}`,
      'settle that first',
    );
  refuseStrangers(book, target, workOrderId, placing);

  const sequence = withOrder(book, placing.crewId, placing.day, workOrderId, {
    afterOrderId: placing.afterWorkOrderId,
    displaces: placing.displaces,
  });
  const told = new Map([[target, toldRoute(driven, book, placing.crewId, placing.day, sequence)]]);
  for (const [id, orderIds] of book.ahead) {
    const place = book.question.crewDayOf.get(id);
    if (id === target || !orderIds.includes(workOrderId) || !place) continue;
    const rest = orderIds.filter((each) => each !== workOrderId);
    told.set(id, toldRoute(driven, book, place.crewId, place.day, rest));
  }
  const consequences = [...told].map(([id, route]) => {
    const place = book.question.crewDayOf.get(id) ?? placing;
    return consequenceOf(
      driven,
      book,
      place.crewId,
      place.day,
      route,
      id === target ? placing.displaces : [],
    );
  });
  const answer = {
    consequences,
    displaced: [...placing.displaces],
    toPhone: await brokenPromises(driven, stores, book, told, placing.displaces, {
      workOrderId,
      by: actor.name,
    }),
    warnings: [
      ...book.warnings,
      ...consequences.flatMap(({ warnings }) => warnings),
      ...tooSoon(driven, book, told, workOrderId),
    ],
  };
  if (placing.tryOnly) return { planId: null, version: Number(order['version']), ...answer };
  const number = book.question.books.orders.find((row) => row['id'] === workOrderId)?.['number'];
  const planId = await keepRoutes(driven, stores, actor, book, told, {
    workOrderId,
    because: `order ${String(number)} placed by hand`,
    unplaced: placing.displaces.map((id) => ({
      workOrderId: id,
      code: 'gave_way',
      facts: { toWorkOrderId: workOrderId, by: actor.name },
      text: `gave way to order ${String(number)}, placed by hand (${actor.name})`,
      cheapestPlace: null,
    })),
  });
  if (placing.onCall) await publishNight(house, stores, actor.name, placing);
  // Also where it stays on its route: whoever saw it in its old place looks again.
  const placed = await stores.rows.update('work_order', workOrderId, {
    updated_at: house.clock.now().toISOString(),
  });
  return { planId, version: Number(placed?.['version']), ...answer };
}

function refuseOrdinary(house: House, book: DayBook, workOrderId: string): void {
  const row = book.question.books.orders.find((each) => each['id'] === workOrderId);
  if (!isForOnCall(house, row))
    throw ruleBroken(
      'placement',
      '#/onCall',
      'nobody is sent out of the shift for work that can wait',
      'an order of a call with a time to be there at once or today',
    );
}

/** Whoever is sent out of the shift is told at once. */
async function publishNight(
  house: House,
  stores: Stores,
  by: string,
  { crewId, day }: Pick<Placing, 'crewId' | 'day'>,
): Promise<void> {
  const [route] = await stores.rows.all('route', [
    { column: 'crew_id', is: '=', value: crewId },
    { column: 'day', is: '=', value: day },
    { column: 'state', is: '=', value: 'live' },
    { column: 'on_call', is: '=', value: true },
    { column: 'closed_at', is: 'null' },
  ]);
  if (route) await publishRoute(house, stores, by, String(route['id']));
}

/** What it follows, and what follows it, that crews would come to too soon. */
function tooSoon(
  house: House,
  { question, problem, ahead }: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  workOrderId: string,
): Said[] {
  const place = new Map<string, { day: IsoDate; start: number }>();
  for (const [id, { route }] of told)
    for (const stop of route.stops)
      if (stop.kind === 'visit')
        place.set(stop.orderId, { day: question.crewDayOf.get(id)?.day ?? '', start: stop.startSeconds });
  for (const row of question.books.orders) {
    const live = row['live_stop'] as { day: IsoDate; startsAt: string } | null;
    const id = String(row['id']);
    if (!live || place.has(id) || [...told.keys()].some((key) => ahead.get(key)?.includes(id))) continue;
    const midnight = house.zone.instantOf(live.day, 0).getTime();
    place.set(id, { day: live.day, start: (Date.parse(live.startsAt) - midnight) / 1000 });
  }
  const nameOf = (id: string) => problem.orders.find((each) => each.id === id)?.name ?? id;
  return question.books.orders
    .filter((row) => row['follows_id'] !== null && [row['id'], row['follows_id']].includes(workOrderId))
    .flatMap((row) => {
      const before = place.get(String(row['follows_id']));
      const after = place.get(String(row['id']));
      if (!before || !after) return [];
      const days = daysBetween(before.day, after.day);
      const wanted = Number(row['follows_after_days']);
      if (days > wanted || (days === wanted && (days > 0 || after.start > before.start))) return [];
      return {
        code: 'too_soon_after_predecessor',
        facts: { workOrderId: row['id'], followsId: row['follows_id'], days, wantedDays: wanted },
        text: `${nameOf(String(row['id']))} would come ${days <= 0 ? 'before' : `${days} days after`} ${nameOf(String(row['follows_id']))}, which it follows${wanted > 0 ? ` by ${wanted} days` : ''}`,
      };
    });
}

async function liveDay(stores: Stores, workOrderId: string): Promise<IsoDate | null> {
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: workOrderId },
    { column: 'live', is: '=', value: true },
  ]);
  const route = stop ? await stores.rows.get('route', String(stop['route_id'])) : null;
  return route && route['on_call'] !== true ? String(route['day']) : null;
}

function refuseStrangers(book: DayBook, target: string, workOrderId: string, placing: Placing): void {
  const ahead = book.ahead.get(target) ?? [];
  const { afterWorkOrderId, displaces } = placing;
  if (afterWorkOrderId !== null && (!ahead.includes(afterWorkOrderId) || afterWorkOrderId === workOrderId))
    throw ruleBroken(
      'placement',
      '#/afterWorkOrderId',
      'that order is not ahead on this crew’s route of the day',
      'an order still ahead on it, or null for the first place',
    );
  displaces.forEach((id, i) => {
    if (!ahead.includes(id) || id === workOrderId || id === afterWorkOrderId)
      throw ruleBroken(
        'placement',
        `#/displaces/${i}`,
        'that order cannot give way here',
        'other orders still ahead on this route',
      );
  });
}

/** Promises of the routes touched that no longer hold. */
export async function brokenPromises(
  house: House,
  stores: Stores,
  book: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  displaced: readonly string[],
  moved: { workOrderId: string; by: string },
): Promise<ToPhone[]> {
  const places = new Map<string, PlannedPlace>();
  for (const [id, { route }] of told) {
    const day = book.question.crewDayOf.get(id)?.day ?? '';
    for (const stop of route.stops)
      if (stop.kind === 'visit')
        places.set(stop.orderId, { crewId: route.crewId, day, startSeconds: stop.startSeconds });
  }
  const touched = new Set([...places.keys(), ...displaced]);
  const promises = book.question.promises.filter(({ workOrderId }) => touched.has(workOrderId));
  const name = book.problem.orders.find(({ id }) => id === moved.workOrderId)?.name ?? 'another order';
  const reasons = new Map([
    ...[...touched].map((id) => [id, `comes later since ${name} was placed by hand (${moved.by})`] as const),
    ...displaced.map((id) => [id, `gave way to ${name}, placed by hand (${moved.by})`] as const),
    [moved.workOrderId, `moved by hand (${moved.by})`] as const,
  ]);
  const calls = book.question.books.orders.filter((row) => touched.has(String(row['id'])));
  return whomToPhone(house, stores, { ...book.question, promises }, calls, places, reasons);
}
