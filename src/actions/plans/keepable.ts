import { type IsoDate, weekdayOf } from '../../domain/calendar/isoDate.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { absencesOf, type Books, holds, holidayOn, secondsOf, shiftOf } from './books.js';
import { carriedKit, overtimeSecondsOf, peopleOn } from './crewDays.js';

/** A day and hours somebody is told, or an order is held to. */
export interface Told {
  day: IsoDate;
  /** `HH:MM`; null: any time. */
  from: string | null;
  to: string | null;
}

/** Which part of it cannot be kept, and why. */
export interface Unkeepable {
  part: 'day' | 'hours' | 'crew';
  detail: string;
  remedy: string;
}

interface Hours {
  weekday: string;
  from: string;
  to: string;
}

/** What no crew could keep, whatever the routes are: a day or hours on which nobody works, or the house is shut. */
export function unkeepable(
  books: Pick<Books, 'crews' | 'shifts' | 'holidays' | 'routes'>,
  hours: readonly Hours[],
  { day, from, to }: Told,
): Unkeepable | null {
  // Where no crew has shifts yet nobody can tell.
  if (books.shifts.length === 0) return null;
  const shifts = books.crews.map((crew) => shiftOf(books, crew['id'], day)).filter((shift) => shift !== null);
  if (shifts.length === 0) {
    const holiday = holidayOn(books, day);
    const why = holiday ? ` (${String(holiday['name'])})` : '';
    return {
      part: 'day',
      detail: `no crew works on ${day}${why}`,
      remedy: 'a day on which a crew has a shift',
    };
  }
  const own = hours.filter(({ weekday }) => weekday === weekdayOf(day));
  const open = hours.map((each) => `${each.weekday} ${each.from}–${each.to}`).join(', ');
  if (hours.length > 0 && own.length === 0)
    return { part: 'day', detail: `the house is open ${open} only`, remedy: 'a day on which it is open' };
  const asked = { from: from ?? '00:00', to: to ?? '23:59' };
  const meets = (each: { from: string; to: string }) => each.from <= asked.to && each.to >= asked.from;
  if (own.length > 0 && !own.some(meets))
    return { part: 'hours', detail: `the house is open ${open} only`, remedy: 'hours in which it is open' };
  const worked = shifts.some(
    (shift) =>
      secondsOf(String(shift['starts_at'])) <= secondsOf(asked.to) &&
      secondsOf(String(shift['ends_at'])) + overtimeSecondsOf(books) >= secondsOf(asked.from),
  );
  if (!worked)
    return { part: 'hours', detail: `no crew works then on ${day}`, remedy: 'hours inside a shift' };
  return null;
}

/** Why one crew cannot do the order on a day, whatever its route; null: it can. */
export function crewCannot(books: Books, crew: Row, order: Row, day: IsoDate): Unkeepable | null {
  const name = String(crew['name']);
  const cannot = (detail: string): Unkeepable => ({
    part: 'crew',
    detail,
    remedy: 'a crew that can do it, or leave the crew free',
  });
  if (!shiftOf(books, crew['id'], day)) return cannot(`${name} has no shift on ${day}`);
  const away = absencesOf(books, 'crew_id', crew['id'], day).find(
    (row) => row['people'] === null && row['back_at'] === null,
  );
  if (away) return cannot(`${name} is away on ${day} (${String(away['reason'])})`);
  const people = peopleOn(books, crew, day);
  if (people < Number(order['people']))
    return cannot(`the order takes ${Number(order['people'])} people, ${name} is ${people} on ${day}`);
  const kinds = new Set(
    [...carriedKit(books, crew, day), ...freeKit(books, crew, day)].map((item) => item['kind']),
  );
  const missing = (order['kit'] as string[]).filter((kind) => !kinds.has(kind));
  return missing.length === 0
    ? null
    : cannot(`${name} has no ${missing.join(', no ').replaceAll('_', ' ')} on ${day}`);
}

/** Kit of no crew that this one may fetch. */
const freeKit = (books: Books, crew: Row, day: IsoDate): Row[] =>
  books.kit.filter(
    (item) =>
      (item['depot_id'] === null || item['depot_id'] === crew['depot_id']) &&
      !books.crewKit.some((row) => row['kit_item_id'] === item['id'] && holds(row, day)) &&
      absencesOf(books, 'kit_item_id', item['id'], day).length === 0,
  );

/** As much of the books as `unkeepable` takes. */
export async function openWorkingDays(
  stores: Stores,
): Promise<Pick<Books, 'crews' | 'shifts' | 'holidays' | 'routes'>> {
  const kept = [{ column: 'archived_on', is: 'null' as const }];
  return {
    crews: await stores.rows.all('crew', kept),
    shifts: await stores.rows.all('shift', []),
    holidays: await stores.rows.all('holiday', kept),
    routes: (await ownerSettings(stores)).routes,
  };
}
