import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { cheapestPlaces } from '../../domain/routing/cheapestPlaces.js';
import { spansOn } from '../../domain/routing/orderTerms.js';
import type { Place } from '../../domain/routing/plan.js';
import { noCrewReason } from '../../domain/routing/reasons.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { clockText, durationText, weekdayText } from '../../papers/printed.js';
import type { House, Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import { openBooks, secondsOf, workingDays } from '../plans/books.js';
import { consequenceOf, crewsBehind, type DayBook, openDays } from '../plans/dayRoutes.js';
import { type Displaced, displacedOrders } from '../plans/displaced.js';
import { onlyLive, outsideOf, soundPlaces } from '../plans/placeOrder.js';
import type { Said, TravelTable } from '../plans/planTools.js';
import { liveStart } from '../plans/problem.js';

/** One day a client may be offered. */
export interface OfferedDay {
  day: IsoDate;
  possible: boolean;
  /** Null where the order cannot come that day. */
  place: {
    crewId: string;
    crewName: string;
    startsAt: string;
    /** Hours to tell the client, `HH:MM`: some room before and after. */
    from: string;
    to: string;
    afterWorkOrderId: string | null;
    /** Against doing it on no day, minor units; more than driving: what gives way, and waiting, is counted. */
    costMinor: number;
    /** Dearer than the cheapest of these days. */
    extraMinor: number;
    extraDriveMinutes: number;
    extraOvertimeMinutes: number;
    displaces: Displaced[];
  } | null;
  text: string;
}

export interface DayOffer {
  days: OfferedDay[];
  /** Where no day is possible: the reason that a plan would give. */
  nowhere: Said | null;
  /** Of the order: what a placement is made from. */
  version: number;
  warnings: readonly Said[];
}

/** Room told around a start, so that a promise can be kept. Common practice, no source. */
const BEFORE_SECONDS = 3_600;
const AFTER_SECONDS = 5_400;
const QUARTER_SECONDS = 900;

/**
 * For a client on the phone: each of the next working days with its cheapest place among what crews drive, and what
 * it costs more than the cheapest of them. Days the order is locked or promised to do not bind: another is looked for.
 */
export async function offerDays(
  house: House,
  stores: Stores,
  travel: TravelTable,
  workOrderId: string,
  count: number,
): Promise<DayOffer> {
  const version = Number((await openOrder(stores, workOrderId))['version']);
  const today = house.zone.dayOf(house.clock.now());
  const toDay = workingDays(await openBooks(stores, today), today, count).at(-1) ?? addDays(today, count);
  const book = await openDays(house, stores, travel, { fromDay: today, toDay, alsoOrder: workOrderId });
  const outside = outsideOf(book, workOrderId);
  if (outside) return { days: [], nowhere: outside, version, warnings: book.warnings };
  const free = unlocked(book, workOrderId);
  const only = onlyLive(free, workOrderId);
  const { places, nowhere } = cheapestPlaces(
    only,
    liveStart(book.question),
    workOrderId,
    only.crewDays.length,
  );
  const cheapest = new Map(
    book.question.days.flatMap((_, day) =>
      soundPlaces(
        free,
        workOrderId,
        places.filter((place) => place.day === day),
        1,
      ).map((found) => [day, found] as const),
    ),
  );
  const offered = [...cheapest.values()].map(({ place }) => place);
  const least = Math.min(...offered.map(({ extraCost }) => extraCost));
  const names = await stores.plans.orderNames(offered.flatMap(({ displaces }) => displaces));
  const promised = new Set(book.question.promises.map((each) => each.workOrderId));
  const days = book.question.days.slice(0, count).map((day, index): OfferedDay => {
    const found = cheapest.get(index);
    if (!found)
      return {
        day,
        possible: false,
        place: null,
        text: `${weekdayText(day)}: ${nowhere ? nowhere.text : whyNotOn(only, workOrderId, index)}.`,
      };
    const { place, told: route } = found;
    const displaces = displacedOrders(house, place.displaces, names, (id) => promised.has(id));
    const { before, after } = consequenceOf(house, free, place.crewId, day, route);
    const hours = toldHours(house, book, place);
    const told = {
      crewId: place.crewId,
      crewName: String(book.question.books.crews.find((row) => row['id'] === place.crewId)?.['name']),
      startsAt: house.zone.instantOf(day, place.startSeconds).toISOString(),
      ...hours,
      afterWorkOrderId: place.afterOrderId,
      costMinor: Math.round(place.extraCost),
      extraMinor: Math.round(place.extraCost - least),
      extraDriveMinutes: Math.round((after.driveSeconds - (before?.driveSeconds ?? 0)) / 60),
      extraOvertimeMinutes: Math.round((after.overtimeSeconds - (before?.overtimeSeconds ?? 0)) / 60),
      displaces,
    };
    return { day, possible: true, place: told, text: textOf(house, day, told) };
  });
  const why = nowhere && { code: nowhere.code, facts: { ...nowhere.facts }, text: nowhere.text };
  const behind = crewsBehind(book);
  return {
    days,
    nowhere: offered.length > 0 ? null : (why ?? behind[0] ?? null),
    version,
    warnings: [...book.warnings, ...behind],
  };
}

/** What keeps all crews from the order on one of the days, where another has a place. */
function whyNotOn(problem: DayBook['problem'], workOrderId: string, day: number): string {
  const order = problem.orders.find(({ id }) => id === workOrderId);
  if (order === undefined) throw new RangeError(`order ${workOrderId} is not in the problem`);
  const crewDays = problem.crewDays.filter((crewDay) => crewDay.day === day);
  if (spansOn(order, day).length === 0) return 'it may not be done that day';
  if (crewDays.length === 0) return 'no crew works that day';
  return (
    noCrewReason(order, { ...problem, crewDays }, 'that day')?.text ??
    'no crew that could do it has the time, whatever gives way'
  );
}

/** The question with this order free to come on any day and to any crew. */
function unlocked(book: DayBook, workOrderId: string): DayBook {
  return {
    ...book,
    problem: {
      ...book.problem,
      orders: book.problem.orders.map((order) => {
        if (order.id !== workOrderId) return order;
        const { lock: _lock, ...free } = order;
        return free;
      }),
    },
  };
}

/** Hours around a start on quarters of an hour, inside the crew's shift and not before now. */
function toldHours(
  house: House,
  { problem, question }: DayBook,
  { crewDayId, day, startSeconds }: Place,
): { from: string; to: string } {
  const crewDay = problem.crewDays.find(({ id }) => id === crewDayId);
  const midnight = house.zone.instantOf(question.days[day] ?? '', 0).getTime();
  const now = (house.clock.now().getTime() - midnight) / 1000;
  // Nobody is told a time that has gone by; a start sooner than the next quarter is told as it is.
  const next = Math.min(startSeconds, Math.ceil(now / QUARTER_SECONDS) * QUARTER_SECONDS);
  const earliest = Math.max(crewDay?.shiftStartSeconds ?? 0, next);
  const latest = crewDay?.shiftEndSeconds ?? 86_340;
  const quarter = (seconds: number, round: (n: number) => number) =>
    round(seconds / QUARTER_SECONDS) * QUARTER_SECONDS;
  const from = Math.max(earliest, quarter(startSeconds - BEFORE_SECONDS, Math.floor));
  const to = Math.max(
    Math.min(latest, quarter(startSeconds + AFTER_SECONDS, Math.ceil)),
    quarter(startSeconds + 60, Math.ceil),
  );
  return { from: timeText(from), to: timeText(Math.min(to, 86_340)) };
}

const timeText = (seconds: number): string =>
  `${String(Math.floor(seconds / 3600)).padStart(2, '0')}:${String(Math.floor((seconds % 3600) / 60)).padStart(2, '0')}`;

function textOf(house: House, day: IsoDate, place: NonNullable<OfferedDay['place']>): string {
  const currency = currencyOf(house.currency);
  const between = `${clockText(secondsOf(place.from), house.units)} to ${clockText(secondsOf(place.to), house.units)}`;
  const parts = [
    place.extraMinor <= 0
      ? 'the cheapest day'
      : `${moneyText(place.extraMinor, currency)} more than the cheapest day`,
    `${place.extraDriveMinutes >= 0 ? durationText(60 * place.extraDriveMinutes) : 'no'} more driving`,
    ...(place.extraOvertimeMinutes > 0
      ? [`${durationText(60 * place.extraOvertimeMinutes)} of overtime`]
      : []),
    ...(place.displaces.length > 0
      ? [
          place.displaces
            .map(
              ({ number, promised, call }) =>
                `order ${number} gives way${promised ? ', promised' : ''}${call ? ` (${call})` : ''}`,
            )
            .join('; '),
        ]
      : []),
  ];
  return `${weekdayText(day)}, ${between}, ${place.crewName}: ${parts.join('; ')}.`;
}
