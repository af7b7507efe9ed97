import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { cheapestPlaces } from '../../domain/routing/cheapestPlaces.js';
import type { Place } from '../../domain/routing/plan.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { clockText, durationText, weekdayText } from '../../papers/printed.js';
import type { House, Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import { openBooks, secondsOf, workingDays } from '../plans/books.js';
import { consequenceOf, type DayBook, openDays, toldRoute } from '../plans/dayRoutes.js';
import { onlyLive, outsideOf, withOrder } from '../plans/placeOrder.js';
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
    displaces: { workOrderId: string; number: number; address: string; promised: boolean }[];
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
  const cheapest = new Map<number, Place>();
  for (const place of places) if (!cheapest.has(place.day)) cheapest.set(place.day, place);
  const least = Math.min(...places.map(({ extraCost }) => extraCost));
  const names = await stores.plans.orderNames([...cheapest.values()].flatMap(({ displaces }) => displaces));
  const promised = new Set(book.question.promises.map((each) => each.workOrderId));
  const days = book.question.days.slice(0, count).map((day, index): OfferedDay => {
    const place = cheapest.get(index);
    if (!place)
      return {
        day,
        possible: false,
        place: null,
        text: `${weekdayText(day)}: ${nowhere ? nowhere.text : 'no crew can come: its hours, kit, people, a season, or the time to be there by'}.`,
      };
    const displaces = names
      .filter((row) => place.displaces.includes(String(row['id'])))
      .map((row) => ({
        workOrderId: String(row['id']),
        number: Number(row['number']),
        address: String(row['address']),
        promised: promised.has(String(row['id'])),
      }));
    const { before, after } = consequenceOf(
      house,
      free,
      place.crewId,
      day,
      toldRoute(house, free, place.crewId, day, withOrder(free, place.crewId, day, workOrderId, place)),
    );
    const hours = toldHours(book, place);
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
  return { days, nowhere: why, version, warnings: book.warnings };
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

/** Hours around a start on quarters of an hour, inside the crew's shift. */
function toldHours({ problem }: DayBook, { crewDayId, startSeconds }: Place): { from: string; to: string } {
  const crewDay = problem.crewDays.find(({ id }) => id === crewDayId);
  const earliest = crewDay?.shiftStartSeconds ?? 0;
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
          `order ${place.displaces.map(({ number }) => number).join(', ')} gives way${place.displaces.some(({ promised }) => promised) ? ', promised' : ''}`,
        ]
      : []),
  ];
  return `${weekdayText(day)}, ${between}, ${place.crewName}: ${parts.join('; ')}.`;
}
