import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { ToldRoute } from '../../domain/routing/asTold.js';
import { cheapestPlaces } from '../../domain/routing/places.js';
import type { House, Stores } from '../house.js';
import type { Actor } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { crewDayId } from './crewDays.js';
import { type Consequence, consequenceOf, type DayBook, openDays, toldRoute } from './dayRoutes.js';
import { openOrder } from './openOrder.js';
import type { Said, TravelTable } from './planTools.js';
import { liveStart } from './problem.js';
import { ENGINE_VERSION, placeFacts } from './propose.js';
import { makePlanLive } from './settlePlan.js';
import { storeRoutes } from './storePlan.js';
import { type PlannedPlace, promisesToPhone, type ToPhone } from './toPhone.js';

const PLACES = 3;

export interface OfferedPlace {
  crewId: string;
  crewName: string;
  day: IsoDate;
  afterWorkOrderId: string | null;
  startsAt: string;
  extraCostMinor: number;
  displaces: { workOrderId: string; number: number; address: string; promised: boolean }[];
  consequence: Consequence;
}

/**
 * The cheapest places of an order among what crews drive from today on, at most one a crew and day. Where there is
 * no room, up to three stops in a row give way.
 */
export async function offerPlaces(
  house: House,
  stores: Stores,
  travel: TravelTable,
  workOrderId: string,
  days: number,
): Promise<{ places: OfferedPlace[]; warnings: readonly Said[] }> {
  await openOrder(stores, workOrderId);
  const today = house.zone.dayOf(house.clock.now());
  const book = await openDays(house, stores, travel, {
    fromDay: today,
    toDay: addDays(today, days - 1),
    alsoOrder: workOrderId,
  });
  refuseOutside(book, workOrderId);
  const only = onlyLive(book, workOrderId);
  const found = cheapestPlaces(only, liveStart(book.question), workOrderId, PLACES);
  const names = await stores.plans.orderNames(found.flatMap(({ displaces }) => displaces));
  const promised = new Set(book.question.promises.map((each) => each.workOrderId));
  return {
    warnings: book.warnings,
    places: found.map((place) => {
      const { crewId, day, afterWorkOrderId, startsAt, extraCostMinor } = placeFacts(
        house,
        book.question,
        place,
      );
      const told = toldRoute(book, crewId, day, withOrder(book, crewId, day, workOrderId, place));
      return {
        crewId,
        crewName: String(book.question.books.crews.find((row) => row['id'] === crewId)?.['name']),
        day,
        afterWorkOrderId,
        startsAt,
        extraCostMinor,
        displaces: names
          .filter((row) => place.displaces.includes(String(row['id'])))
          .map((row) => ({
            workOrderId: String(row['id']),
            number: Number(row['number']),
            address: String(row['address']),
            promised: promised.has(String(row['id'])),
          })),
        consequence: consequenceOf(house, book, crewId, day, told),
      };
    }),
  };
}

/** Orders nobody drives to are no part of the question: only the new one looks for a place. */
function onlyLive({ problem, ahead }: DayBook, workOrderId: string) {
  const live = new Set([...ahead.values()].flat());
  const orders = problem.orders.filter(({ id }) => id === workOrderId || live.has(id));
  const kept = new Set(orders.map(({ id }) => id));
  return {
    ...problem,
    orders: orders.map((order) => ({
      ...order,
      follows: order.follows.filter(({ orderId }) => kept.has(orderId)),
    })),
  };
}

function withOrder(
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
  return [...rest.slice(0, at), workOrderId, ...rest.slice(at)];
}

function refuseOutside({ question }: DayBook, workOrderId: string): void {
  const outside = question.outside.find((each) => each.workOrderId === workOrderId);
  if (outside)
    throw ruleBroken('placement', '#', `the order cannot be placed: ${outside.text}`, 'settle that first');
}

export interface Placing {
  crewId: string;
  day: IsoDate;
  /** Null: first of what is still ahead. */
  afterWorkOrderId: string | null;
  /** Orders of that route that give way. */
  displaces: readonly string[];
  /** Look at the consequences only. */
  tryOnly: boolean;
}

export interface Placed {
  planId: string | null;
  consequences: Consequence[];
  displaced: string[];
  toPhone: ToPhone[];
  warnings: readonly Said[];
}

/**
 * Places an order, or moves it, where a person wants it: one plan for the routes touched, accepted in the same
 * transaction. Late stops and overtime are the person's decision and come back as consequences.
 *
 * @throws {Refused} `rule-broken` where kit, people, tanks or a season forbid it.
 */
export async function placeOrder(
  house: House,
  stores: Stores,
  travel: TravelTable,
  actor: Pick<Actor, 'name'>,
  workOrderId: string,
  placing: Placing,
): Promise<Placed> {
  const today = house.zone.dayOf(house.clock.now());
  if (placing.day < today)
    throw ruleBroken('placement', '#/day', `${placing.day} is over`, `a day from ${today} on`);
  const from = await liveDay(stores, workOrderId);
  const days = from === null ? [placing.day] : [placing.day, from];
  await stores.plans.acquireDays(days);
  await openOrder(stores, workOrderId);
  const book = await openDays(house, stores, travel, {
    fromDay: [...days].sort()[0] ?? today,
    toDay: [...days].sort().at(-1) ?? today,
    alsoOrder: workOrderId,
  });
  const target = crewDayId(placing.crewId, placing.day);
  if (!book.question.crewDayOf.has(target))
    throw ruleBroken(
      'placement',
      '#/crewId',
      `the crew does not work on ${placing.day} (any more)`,
      'a crew with a shift that day',
    );
  refuseOutside(book, workOrderId);
  refuseStrangers(book, target, workOrderId, placing);

  const sequence = withOrder(book, placing.crewId, placing.day, workOrderId, {
    afterOrderId: placing.afterWorkOrderId,
    displaces: placing.displaces,
  });
  const told = new Map([[target, toldRoute(book, placing.crewId, placing.day, sequence)]]);
  for (const [id, orderIds] of book.ahead) {
    const place = book.question.crewDayOf.get(id);
    if (id === target || !orderIds.includes(workOrderId) || !place) continue;
    const rest = orderIds.filter((each) => each !== workOrderId);
    told.set(id, toldRoute(book, place.crewId, place.day, rest));
  }
  const consequences = [...told].map(([id, route]) => {
    const place = book.question.crewDayOf.get(id) ?? placing;
    return consequenceOf(house, book, place.crewId, place.day, route);
  });
  const answer = {
    consequences,
    displaced: [...placing.displaces],
    toPhone: await brokenPromises(house, stores, book, told, placing.displaces),
    warnings: book.warnings,
  };
  if (placing.tryOnly) return { planId: null, ...answer };
  return { planId: await keep(house, stores, actor, book, told, workOrderId), ...answer };
}

async function liveDay(stores: Stores, workOrderId: string): Promise<IsoDate | null> {
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: workOrderId },
    { column: 'live', is: '=', value: true },
  ]);
  const route = stop ? await stores.rows.get('route', String(stop['route_id'])) : null;
  return route ? String(route['day']) : null;
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
async function brokenPromises(
  house: House,
  stores: Stores,
  book: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  displaced: readonly string[],
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
  const reasons = new Map(displaced.map((id) => [id, 'gave way to another order']));
  return promisesToPhone(house, stores, { ...book.question, promises }, places, reasons);
}

async function keep(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  book: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  workOrderId: string,
): Promise<string> {
  const planId = newId();
  const scope = [...told.keys()].flatMap((id) => book.question.crewDayOf.get(id) ?? []);
  const days = scope.map(({ day }) => day).sort();
  const routes = [...told.values()].map(({ route }) => route);
  const now = house.clock.now().toISOString();
  await stores.rows.insert('plan', {
    id: planId,
    state: 'proposed',
    from_day: days[0],
    to_day: days.at(-1),
    because: `order ${String(book.question.books.orders.find((row) => row['id'] === workOrderId)?.['number'])} placed by hand`,
    asked_by: actor.name,
    seed: 0,
    search_seconds: 0,
    progress: 1,
    engine_version: ENGINE_VERSION,
    iterations: 0,
    summary: {
      routes: routes.length,
      stops: routes.reduce((sum, { stops }) => sum + stops.filter(({ kind }) => kind === 'visit').length, 0),
    },
    scope: JSON.stringify(scope),
    warnings: JSON.stringify(book.warnings),
    proposed_at: now,
  });
  await storeRoutes(house, stores, planId, { routes }, book.question, new Set(told.keys()));
  await makePlanLive(house, stores, planId, actor.name);
  return planId;
}
