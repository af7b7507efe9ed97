import { createHash } from 'node:crypto';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { placeDays } from '../../domain/routing/placeDays.js';
import type { StartRoutes } from '../../domain/routing/plan.js';
import type { CrewDay, Order, RefillSite, RoutingProblem } from '../../domain/routing/problem.js';
import { noCrewReason } from '../../domain/routing/reasons.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { withLeastLegs } from '../../domain/work/travel.js';
import { weekdayText } from '../../papers/printed.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type Books, openBooks, workingDays } from './books.js';
import { crewDayId, crewDayOf, Places, sharedKitOf } from './crewDays.js';
import { type RouteProgress, routeProgress } from './dayProgress.js';
import {
  askOf,
  crewFactors,
  followingOf,
  type Horizon,
  type LeftOutside,
  type Promised,
  promiseOf,
  type ReleasedLock,
} from './orderAsks.js';
import type { PlanTools, Said } from './planTools.js';

/** The question of a plan, without its travel times. */
export interface Question {
  days: readonly IsoDate[];
  books: Books;
  places: Places;
  problem: Omit<RoutingProblem, 'travel'>;
  crewDayOf: ReadonlyMap<string, { crewId: string; day: IsoDate }>;
  outside: readonly LeftOutside[];
  promises: readonly Promised[];
  released: readonly ReleasedLock[];
  leastLegSeconds: number;
  /** Live routes of the days, with how far today's have come. */
  live: readonly RouteProgress[];
  /** Hours out of all shifts, of who is on call. */
  onCall: boolean;
}

export interface QuestionAsk {
  fromDay: IsoDate;
  /** Last day at the latest. */
  toDay: IsoDate;
  /** How dear moving a stop people rely on is against usual; absent: 1. */
  moveFactor?: number;
  /** An order that is asked about although it has its place on another day. */
  alsoOrder?: string;
  /** Ask also about orders that wait for a precondition, as if nothing kept them. */
  alsoWaiting?: boolean;
}

/** Most working days of one plan. */
export const MOST_DAYS = 10;

/** Reads the books and states what is to be planned. */
export async function askQuestion(
  house: House,
  stores: Stores,
  settings: OwnerSettings,
  ask: QuestionAsk,
): Promise<Question> {
  const today = house.zone.dayOf(house.clock.now());
  const books = await openBooks(stores, today);
  const coming = workingDays(books, ask.fromDay, MOST_DAYS);
  const days = coming.filter((day) => day <= ask.toDay);
  // Days within it on which no crew works (any more) belong to what is planned: their stops go elsewhere.
  const lastTaken = coming[MOST_DAYS - 1];
  const isCut = lastTaken !== undefined && lastTaken < ask.toDay;
  const span = { from: ask.fromDay, to: isCut ? lastTaken : ask.toDay };
  const { places, depotAt } = placesOf(books);
  const routes = days.length === 0 ? [] : await stores.plans.liveRoutes(span.from, span.to);
  const live = routes.map((route): RouteProgress => {
    const depot = places.points[depotAt.get(route['depot_id']) ?? 0];
    return route['day'] === today && depot
      ? routeProgress(house, today, route, depot)
      : { route, kept: [], position: null, restTaken: false, returnsAtSeconds: null, visitsLeft: 0 };
  });
  const progressOf = new Map(
    live.map((each) => [crewDayId(each.route['crew_id'], String(each.route['day'])), each]),
  );
  const crewDays = days.flatMap((day, index) =>
    books.crews.flatMap((crew): CrewDay[] => {
      const progress = day === today ? progressOf.get(crewDayId(crew['id'], day)) : undefined;
      const crewDay = crewDayOf(house, books, crew, day, index, depotAt, places, progress);
      return crewDay ? [crewDay] : [];
    }),
  );
  const horizon = {
    house,
    books,
    settings,
    fromDay: ask.fromDay,
    span,
    days,
    crewDays,
    places,
    onCall: false,
  };
  return stateQuestion({ ...horizon, moveFactor: ask.moveFactor ?? 1 }, ask, depotAt, live);
}

/** Places of the depots, to which those of sites are added. */
export function placesOf(books: Pick<Books, 'depots'>): {
  places: Places;
  depotAt: ReadonlyMap<unknown, number>;
} {
  const places = new Places();
  const depotAt = new Map<unknown, number>(
    books.depots.map((row) => [row['id'], places.add(Number(row['latitude']), Number(row['longitude']))]),
  );
  return { places, depotAt };
}

/** The question that crew-days and open orders make together. */
export function stateQuestion(
  at: Omit<Horizon, 'depotOf'>,
  ask: Pick<QuestionAsk, 'alsoOrder' | 'alsoWaiting'>,
  depotAt: ReadonlyMap<unknown, number>,
  live: readonly RouteProgress[],
): Question {
  const { books, days, crewDays, places, settings } = at;
  const depotOf = new Map(books.crews.map((crew) => [String(crew['id']), String(crew['depot_id'])]));
  const horizon: Horizon = { ...at, depotOf };
  const sharedKit = sharedKitOf(books, days);
  const dayNames = days.map((day) => weekdayText(day).replaceAll('\u00A0', ' '));
  const asked = askOrders(horizon, ask);
  const freed = releaseLocks(asked.orders, dayNames, crewDays, sharedKit, asked.promises);
  return {
    days,
    books,
    places,
    leastLegSeconds: Math.round(settings.routes.leastLegMinutes * 60),
    live,
    onCall: at.onCall,
    outside: asked.outside,
    promises: asked.promises,
    released: freed.released,
    crewDayOf: new Map(crewDays.map(({ id, crewId, day }) => [id, { crewId, day: days[day] ?? '' }])),
    problem: {
      days: dayNames,
      calendarDays: days.map(dayNumber),
      crewDays,
      orders: freed.orders,
      sharedKit,
      refillSites: refillSites(books, depotAt),
      costs: {
        drivingPerHour: books.routes.crewHourMinor,
        drivingPerKm: books.routes.kmMinor,
        overtimeGain: books.routes.overtimeGain,
      },
    },
  };
}

function askOrders(
  horizon: Horizon,
  { alsoOrder, alsoWaiting = false }: Pick<QuestionAsk, 'alsoOrder' | 'alsoWaiting'>,
): { orders: Order[]; outside: LeftOutside[]; promises: Promised[] } {
  const factors = crewFactors(horizon.books.takenMinutes);
  const outside: LeftOutside[] = [];
  const promises: Promised[] = [];
  const asked = new Map<string, Order>();
  // Routes changed by hand are driven with all that stands on them, also what the next plan would take off.
  const standsOn = (row: Row): number | null => {
    const day = alsoOrder === undefined || row['id'] === alsoOrder ? null : liveDayOf(row);
    return day !== null && horizon.days.includes(day) ? horizon.days.indexOf(day) : null;
  };
  const rows = horizon.books.orders.filter(
    (row) => row['state'] !== 'under_way' && (row['id'] === alsoOrder || !isPlacedElsewhere(horizon, row)),
  );
  for (const row of rows) {
    const answer = askOf(horizon, row, factors, { standsOn: standsOn(row), waiting: alsoWaiting });
    if (answer.outside) outside.push(answer.outside);
    if (answer.order) asked.set(answer.order.id, answer.order);
    const promise = promiseOf(row);
    if (promise && promise.day >= horizon.span.from && promise.day <= horizon.span.to) promises.push(promise);
  }
  // What follows an order that cannot go anywhere cannot go either, and so on down the chain.
  for (let more = true; more; ) {
    more = false;
    for (const row of rows) {
      const before = row['predecessor'] as { state: string; number: number } | null;
      const open = before?.state === 'wanted' || before?.state === 'placed';
      const id = String(row['id']);
      if (!open || !asked.has(id) || asked.has(String(row['follows_id']))) continue;
      if (isPlacedBefore(horizon, String(row['follows_id']))) continue;
      if (outside.some(({ workOrderId }) => workOrderId === id)) continue;
      if (standsOn(row) === null) asked.delete(id);
      outside.push({
        workOrderId: id,
        code: 'predecessor_unplaced',
        facts: { orderIds: [row['follows_id']] },
        text: `must follow order ${before.number}, which is not placed`,
      });
      more = true;
    }
  }
  const searched = new Set(asked.keys());
  const orders = rows.flatMap((row): Order[] => {
    const order = asked.get(String(row['id']));
    return order ? [{ ...order, follows: followingOf(row, searched) }] : [];
  });
  return { orders, outside, promises };
}

type LiveStop = { day: IsoDate; onCall: boolean } | null | undefined;

const liveStopOf = (row: Row | undefined) => row?.['live_stop'] as LiveStop;
const liveDayOf = (row: Row | undefined): IsoDate | null => liveStopOf(row)?.day ?? null;

/** Crews drive it on a day that is not planned here, or out of the shift: it keeps its place. */
function isPlacedElsewhere({ house, span, onCall }: Horizon, row: Row): boolean {
  const live = liveStopOf(row);
  const today = house.zone.dayOf(house.clock.now());
  // Hours out of shifts are for calls: no other work is asked about there.
  if (onCall) return live?.onCall !== true || live.day < span.from;
  if (!live) return false;
  // A night goes on past midnight.
  if (live.onCall) return live.day >= addDays(today, -1);
  return (live.day < span.from || live.day > span.to) && live.day >= today;
}

function isPlacedBefore({ books, span }: Horizon, orderId: string): boolean {
  const day = liveDayOf(books.orders.find((each) => each['id'] === orderId));
  return day !== null && day < span.from;
}

/** A lock no crew can keep whatever the hour would leave the order out: it is planned without, and told. */
function releaseLocks(
  orders: readonly Order[],
  days: readonly string[],
  crewDays: readonly CrewDay[],
  sharedKit: RoutingProblem['sharedKit'],
  promises: readonly Promised[],
): { orders: Order[]; released: ReleasedLock[] } {
  const promised = new Set(promises.map(({ workOrderId }) => workOrderId));
  const released: ReleasedLock[] = [];
  const freed = orders.map((order) => {
    const { lock, ...rest } = order;
    if (!lock) return order;
    const none = noCrewReason({ ...order, windows: [] }, { crewDays, days, sharedKit });
    if (none === null) return order;
    released.push({ workOrderId: order.id, promised: promised.has(order.id), because: none.text });
    return rest;
  });
  return { orders: freed, released };
}

const refillSites = (books: Books, depotAt: ReadonlyMap<unknown, number>): RefillSite[] =>
  books.depots
    .filter((depot) => depot['water'] === true || depot['disposal'] === true)
    .map((depot) => ({
      id: String(depot['id']),
      location: depotAt.get(depot['id']) ?? 0,
      seconds: Math.round(books.routes.refillMinutes * 60),
      givesWater: depot['water'] === true,
      takesWaste: depot['disposal'] === true,
    }));

/** The question with its travel times, and what is to be known about them. */
export async function withTravel(
  question: Question,
  tools: Pick<PlanTools, 'travel'>,
): Promise<{ problem: RoutingProblem; warnings: readonly Said[] }> {
  const { points } = question.places;
  const { matrix, warnings } = await tools.travel(points, placeDays(question.problem, points.length));
  const travel = withLeastLegs(matrix, question.places.sites, question.leastLegSeconds);
  return { problem: { ...question.problem, travel }, warnings };
}

/** The routes crews rely on, as far as they are still ahead. */
export function liveStart({ live }: Question): StartRoutes {
  return live.map(({ route, kept }) => ({
    crewDayId: crewDayId(route['crew_id'], String(route['day'])),
    orderIds: (route['stops'] as Row[])
      .filter((stop) => stop['kind'] === 'visit' && stop['live'] === true && !kept.includes(stop))
      .map((stop) => String(stop['work_order_id'])),
  }));
}

/** Equal for equal questions, whatever is live; the plan itself must not count as a change of its question. */
export function questionHash({ problem, days, places, leastLegSeconds }: Question, seed: number): string {
  const orders = problem.orders.map(({ accepted: _accepted, ...order }) => order);
  const hash = createHash('sha256');
  hash.update(JSON.stringify([days, seed, { ...problem, orders }, places.points, leastLegSeconds]));
  return hash.digest('base64url');
}
