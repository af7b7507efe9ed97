import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { weekdayText } from '../../domain/calendar/saidDay.js';
import { mayTake } from '../../domain/routing/ability.js';
import { driveAsTold, type ToldRefusal, type ToldRoute } from '../../domain/routing/asTold.js';
import { overtimePrice } from '../../domain/routing/overtime.js';
import type { CrewDay, RoutingProblem } from '../../domain/routing/problem.js';
import { crewReason } from '../../domain/routing/reasons.js';
import { takesAlong } from '../../domain/work/alongKit.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { absencesOf, holidayOn, shiftOf } from './books.js';
import { callGivesWay, instantText } from './calls.js';
import { carriedKit, crewDayId } from './crewDays.js';
import { dayWarnings, idleSeconds, lateStops } from './dayWarnings.js';
import type { OnCallCrew } from './onCallDays.js';
import { type OnCallFacts, onCallFacts, onCallWarnings } from './onCallSaid.js';
import { askedKit, promiseOf } from './orderAsks.js';
import type { Said, TravelTable } from './planTools.js';
import { askQuestion, liveStart, type Question, withTravel } from './problem.js';

/** What crews drive on some days, ready to be changed by hand. */
export interface DayBook {
  question: Question;
  problem: RoutingProblem;
  settings: OwnerSettings;
  warnings: readonly Said[];
  /** Orders ahead on each live route, in sequence. */
  ahead: ReadonlyMap<string, readonly string[]>;
  /** Of hours out of all shifts, who is sent, by crew-day; null: these are shifts. */
  onCall: ReadonlyMap<string, OnCallCrew> | null;
}

export async function openDays(
  house: House,
  stores: Stores,
  travel: TravelTable,
  ask: { fromDay: IsoDate; toDay: IsoDate; alsoOrder: string },
): Promise<DayBook> {
  const settings = await ownerSettings(stores);
  const question = await askQuestion(house, stores, settings, ask);
  const { problem, warnings } = await withTravel(question, { travel });
  const ahead = new Map(liveStart(question).map(({ crewDayId: id, orderIds }) => [id, orderIds]));
  return { question, problem, settings, warnings, ahead, onCall: null };
}

/** What a crew's day looks like with and without a change. */
export interface Consequence {
  crewId: string;
  crewName: string;
  day: IsoDate;
  before: DayFigures | null;
  after: DayFigures;
  /** Stops that start after their hours or promise ends. */
  late: { workOrderId: string; lateSeconds: number; promised: boolean }[];
  /** What is unwise about it, in sentences. */
  warnings: Said[];
  /** Out of the shift: who goes, and what becomes of the next one; null: it is within. */
  onCall: OnCallFacts | null;
}

export interface DayFigures {
  driveSeconds: number;
  driveMetres: number;
  overtimeSeconds: number;
  overtimeCostMinor: number;
  /** From the start of the shift, or from when the crew is free, until it leaves. */
  idleSeconds: number;
  /** At stops, before they may begin. */
  waitSeconds: number;
  leavesAt: string;
  endsAt: string;
  stops: number;
}

/**
 * Drives a crew's day as a person wants it.
 * @throws {Refused} `rule-broken` where kit, people, tanks or a season forbid it, or the next shift would have begun.
 */
export function toldRoute(
  house: House,
  book: DayBook,
  crewId: string,
  day: IsoDate,
  orderIds: readonly string[],
): ToldRoute {
  const told = driveAsTold(book.problem, crewDayId(crewId, day), orderIds);
  if ('refused' in told) throw refusal(book, crewId, day, told.refused);
  const { impossible } = judged(house, book, crewId, day, told);
  if (impossible) throw broken('#/day', impossible.text, 'another day, crew or place, or fewer stops');
  return told;
}

/** As `toldRoute` where nobody is late and a plan could have made it; null: it is no place to offer. */
export function soundRoute(
  book: DayBook,
  crewId: string,
  day: IsoDate,
  orderIds: readonly string[],
): ToldRoute | null {
  const told = driveAsTold(book.problem, crewDayId(crewId, day), orderIds);
  if ('refused' in told || told.late.length > 0) return null;
  const allowed = crewDayIn(book, crewId, day)?.overtimeSeconds ?? 0;
  return told.route.overtimeSeconds <= allowed ? told : null;
}

/**
 * The same days with each crew that is behind rid of what it cannot reach: from the end; promises and calls only when
 * nothing else is left.
 *
 * @returns `givesWay`: orders taken off, by crew-day.
 */
export function relieved(book: DayBook): { book: DayBook; givesWay: ReadonlyMap<string, readonly string[]> } {
  const held = new Set([
    ...promisedIn(book),
    ...book.question.books.orders.filter((row) => row['respond_by'] !== null).map((row) => String(row['id'])),
  ]);
  const givesWay = new Map<string, string[]>();
  const ahead = new Map(
    [...book.ahead].map(([id, orderIds]) => {
      const place = book.question.crewDayOf.get(id);
      let kept = [...orderIds];
      while (place && kept.length > 0 && !soundRoute(book, place.crewId, place.day, kept)) {
        const last = kept.findLast((orderId) => !held.has(orderId)) ?? kept.at(-1) ?? '';
        kept = kept.filter((orderId) => orderId !== last);
        givesWay.set(id, [...(givesWay.get(id) ?? []), last]);
      }
      return [id, kept] as const;
    }),
  );
  return { book: { ...book, ahead }, givesWay };
}

/**
 * Crews that cannot drive what is still ahead of them as it stands: they are behind, or it was made so by hand.
 *
 * @param givesWay What they cannot reach gives way to an order that cannot wait.
 */
export function crewsBehind(book: DayBook, givesWay = false): Said[] {
  return [...book.ahead].flatMap(([id, orderIds]) => {
    const place = book.question.crewDayOf.get(id);
    if (!place || soundRoute(book, place.crewId, place.day, orderIds)) return [];
    const crew = book.question.books.crews.find((row) => row['id'] === place.crewId);
    return {
      code: 'crew_behind',
      facts: { crewId: place.crewId, day: place.day, stops: orderIds.length },
      text: `${String(crew?.['name'])} cannot keep to its ${orderIds.length} ${orderIds.length === 1 ? 'stop' : 'stops'} ahead on ${dayWords(place.day)} as they stand: ${givesWay ? 'a place on it displaces what it cannot reach' : 'no place on it is offered'}; plan the rest of the day anew (POST /v1/plans with that day)`,
    };
  });
}

/** Why a crew cannot drive what was asked of it, as a reason. */
export function placeRefusal(book: DayBook, crewId: string, day: IsoDate, refused: ToldRefusal): Said {
  const { problem } = refusal(book, crewId, day, refused);
  const crew = book.question.books.crews.find((row) => row['id'] === crewId);
  const why = problem.code === 'rule-broken' ? (problem.faults[0]?.detail ?? '') : '';
  return { code: refused.code, facts: { crewId, day }, text: `${String(crew?.['name'])}: ${why}` };
}

/** A day in a sentence that may break anywhere. */
const dayWords = (day: IsoDate): string => weekdayText(day).replaceAll('\u00A0', ' ');

const broken = (pointer: string, detail: string, remedy: string): Refused =>
  new Refused({ code: 'rule-broken', rule: 'placement', faults: [{ pointer, detail, remedy }] });

function refusal(book: DayBook, crewId: string, day: IsoDate, refused: ToldRefusal): Refused {
  switch (refused.code) {
    case 'unknown_crew_day':
      return broken('#/crewId', notWorking(book.question, crewId, day), 'a crew with a shift that day');
    case 'unknown_order':
      return broken(
        '#/afterWorkOrderId',
        `${numberAndAddress(book, refused.id)} cannot be placed${outsideText(book, refused.id)}`,
        'an order that is on the route',
      );
    case 'closed_day':
      return broken(
        '#/day',
        `${nameOf(book, refused.orderId)} is not open on ${day} (its hours, or not before a later day)`,
        'another day',
      );
    case 'tanks':
      return broken(
        '#/crewId',
        'its tanks do not suffice, and no depot fills or empties them',
        'another crew',
      );
    case 'too_long':
      return broken('#/day', 'all of it takes longer than a day and a night', 'another day, or fewer stops');
    case 'obstacle': {
      const order = book.problem.orders.find(({ id }) => id === refused.orderId);
      const crewDay = crewDayIn(book, crewId, day);
      if (!order || !crewDay) throw new RangeError(`no order ${refused.orderId} in the question`);
      const { text } = crewReason(order, crewDay, refused.obstacle, book.problem.days);
      return broken('#/crewId', `${nameOf(book, order.id)}: ${text}`, 'another crew or day');
    }
    default:
      return refused satisfies never;
  }
}

function numberAndAddress({ question }: DayBook, orderId: string): string {
  const row = question.books.orders.find((each) => each['id'] === orderId);
  return row ? `order ${String(row['number'])}, ${String(row['address'])},` : `order ${orderId}`;
}

function outsideText({ question }: DayBook, orderId: string): string {
  const outside = question.outside.find(({ workOrderId }) => workOrderId === orderId);
  return outside ? `: it ${outside.text}` : '';
}

/** Why a crew has no working day there, as far as the books tell. */
export function notWorking({ books, days, onCall }: Question, crewId: string, day: IsoDate): string {
  const crew = books.crews.find((row) => row['id'] === crewId);
  if (!crew) return `there is no crew ${crewId}`;
  const name = String(crew['name']);
  if (onCall) return `nobody of ${name} is on call or called out on ${day}, or its shift has it at work`;
  const holiday = holidayOn(books, day);
  if (holiday) return `${name} does not work on ${day}: ${String(holiday['name'])}`;
  if (!shiftOf(books, crewId, day)) return `${name} has no shift on ${day}`;
  const away = absencesOf(books, 'crew_id', crewId, day).find((row) => row['people'] === null);
  if (away) return `${name} is away on ${day} (${String(away['reason'])})`;
  const last = days.at(-1);
  if (last !== undefined && day > last)
    return `${day} is beyond the ${days.length} working days that can be changed together, from ${days[0]} on: the last is ${last}`;
  return `${name} does not work on ${day} any more: its shift is over, or nobody of it is left`;
}

const crewDayIn = ({ problem }: DayBook, crewId: string, day: IsoDate) =>
  problem.crewDays.find(({ id }) => id === crewDayId(crewId, day));

function judged(house: House, book: DayBook, crewId: string, day: IsoDate, told: ToldRoute) {
  const crewDay = crewDayIn(book, crewId, day);
  if (!crewDay) throw new RangeError(`no crew-day ${crewId} ${day} in the question`);
  const promised = promisedIn(book);
  const made = {
    crewDay,
    day,
    told,
    nameOf: (orderId: string) => nameOf(book, orderId),
    isPromised: (orderId: string) => promised.has(orderId),
  };
  const called = book.onCall?.get(crewDay.id);
  if (!called) return { ...dayWarnings(house, book.question.books, book.settings, made), onCall: null };
  const onCall = onCallFacts(house, book.question.books, called, day, told);
  const others = [...(book.onCall?.values() ?? [])].filter(({ crew }) => crew['id'] !== crewId);
  const warnings = [
    ...lateStops(house, made),
    ...onCallWarnings(house, crewDay, called, onCall, told, others),
  ];
  return { impossible: null, warnings, onCall };
}

const promisedIn = ({ question }: DayBook): ReadonlySet<string> =>
  new Set(question.promises.map(({ workOrderId }) => workOrderId));

const nameOf = ({ problem }: DayBook, orderId: string): string =>
  problem.orders.find(({ id }) => id === orderId)?.name ?? orderId;

/** A change's consequences for one crew and day; `displaces` are the orders that give way there. */
export function consequenceOf(
  house: House,
  book: DayBook,
  crewId: string,
  day: IsoDate,
  told: ToldRoute,
  displaces: readonly string[] = [],
): Consequence {
  const promised = promisedIn(book);
  const crewDay = crewDayIn(book, crewId, day);
  const crew = book.question.books.crews.find((row) => row['id'] === crewId);
  const now = driveAsTold(book.problem, crewDayId(crewId, day), book.ahead.get(crewDayId(crewId, day)) ?? []);
  const { warnings, onCall } = judged(house, book, crewId, day, told);
  return {
    crewId,
    crewName: String(crew?.['name'] ?? ''),
    day,
    before: 'refused' in now || !crewDay ? null : figuresOf(house, day, crewDay, now),
    after: figuresOf(house, day, crewDay, told),
    late: told.late.map(({ orderId, lateSeconds }) => ({
      workOrderId: orderId,
      lateSeconds,
      promised: promised.has(orderId),
    })),
    warnings: [
      ...book.question.books.orders
        .filter((row) => displaces.includes(String(row['id'])))
        .flatMap((row) => callGivesWay(house, row)),
      ...standingWrong(book, day, told),
      ...withoutPump(book, crewDay, told),
      ...warnings,
      ...toldAlready(house, book, crewId, day),
    ],
    onCall,
  };
}

/** The crew was told its day: it hears of the change. */
const toldAlready = (house: House, { question }: DayBook, crewId: string, day: IsoDate): Said[] =>
  question.live
    .filter(
      ({ route }) => route['crew_id'] === crewId && route['day'] === day && route['published_at'] !== null,
    )
    .map(({ route }) => ({
      code: 'published_route_changes',
      facts: { crewId, day, publishedAt: route['published_at'] },
      text: `${String(route['crew_name'])} was told its route of ${dayWords(day)} (${instantText(house, new Date(String(route['published_at'])))}): the change shows there as changesSincePublished; make sure it is seen`,
    }));

/** Stops that the next plan would take off the route, or that their client was told another day for. */
const standingWrong = ({ question }: DayBook, day: IsoDate, { route }: ToldRoute): Said[] =>
  route.stops.flatMap((stop): Said[] => {
    if (stop.kind !== 'visit') return [];
    const row = question.books.orders.find((each) => each['id'] === stop.orderId);
    const promise = row && promiseOf(row);
    const outside = question.outside.find(({ workOrderId }) => workOrderId === stop.orderId);
    const why =
      promise && promise.day !== day ? `its client was told ${promise.day}` : outside && `it ${outside.text}`;
    if (!row || !why) return [];
    return [
      {
        code: 'stands_out_of_place',
        facts: { workOrderId: stop.orderId, day, promisedDay: promise?.day ?? null },
        text: `order ${String(row['number'])}, ${String(row['address'])}, stands on this route although ${why}`,
      },
    ];
  });

/** Visits to a wet house whose crew has no pump to take along, and who has one that day. */
function withoutPump({ question, problem }: DayBook, crewDay: CrewDay | undefined, told: ToldRoute): Said[] {
  if (!crewDay) return [];
  const hasOne = (each: CrewDay) =>
    each.kit.includes('pump') ||
    problem.sharedKit.some((item) => item.kind === 'pump' && mayTake(item, each));
  if (hasOne(crewDay)) return [];
  const others = problem.crewDays.filter((each) => each.day === crewDay.day && hasOne(each));
  const names = [...new Set(others.map(({ crewName }) => crewName))].join(', ');
  const elsewhere = question.onCall
    ? `, and ${names ? 'of those on call' : 'no other crew on call has one:'} ${names ? `${names} ${others.length === 1 ? 'has' : 'have'} one` : pumpsOf(question, crewDay)}`
    : names
      ? `: ${names} ${others.length === 1 ? 'has' : 'have'} one that day`
      : ', and no crew has one that day';
  return told.route.stops.flatMap((stop): Said[] => {
    const row = stop.kind === 'visit' && question.books.orders.find((each) => each['id'] === stop.orderId);
    if (!row || takesAlong(askedKit(row)).length === 0) return [];
    return [
      {
        code: 'no_pump_on_board',
        facts: {
          workOrderId: row['id'],
          crewId: crewDay.crewId,
          crewIds: others.map(({ crewId }) => crewId),
        },
        text: `${crewDay.crewName} has no pump on board for order ${String(row['number'])}, ${String(row['address'])}${elsewhere}`,
      },
    ];
  });
}

/** Where a pump could be fetched out of hours: of crews at home. */
function pumpsOf({ books, days }: Question, { day, crewId }: CrewDay): string {
  const carriers = books.crews.filter(
    (crew) =>
      crew['id'] !== crewId && carriedKit(books, crew, days[day] ?? '').some(({ kind }) => kind === 'pump'),
  );
  if (carriers.length === 0) return 'the firm’s crews carry none';
  const depotOf = (crew: Row) => books.depots.find((row) => row['id'] === crew['depot_id'])?.['name'];
  const named = carriers.map((crew) => `${String(crew['name'])} (${String(depotOf(crew))})`).join(', ');
  return `${named} ${carriers.length === 1 ? 'carries' : 'carry'} one to fetch`;
}

const figuresOf = (
  house: House,
  day: IsoDate,
  crewDay: CrewDay | undefined,
  { route }: ToldRoute,
): DayFigures => ({
  driveSeconds: route.travelSeconds,
  driveMetres: route.travelMetres,
  overtimeSeconds: route.overtimeSeconds,
  overtimeCostMinor: overtimePrice(route.overtimeSeconds, crewDay?.overtimePerHour ?? 0),
  idleSeconds: crewDay ? idleSeconds(crewDay, route) : 0,
  waitSeconds: route.stops.reduce((sum, stop) => sum + stop.waitSeconds, 0),
  leavesAt: house.zone.instantOf(day, route.leaveSeconds).toISOString(),
  endsAt: house.zone.instantOf(day, route.endSeconds).toISOString(),
  stops: route.stops.filter(({ kind }) => kind === 'visit').length,
});
