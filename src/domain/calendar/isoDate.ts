import { WEEKDAYS, type Weekday } from '../words.js';

/** A calendar day `YYYY-MM-DD` of the business's own zone; no time, no zone of its own. */
export type IsoDate = string;

const DAY_MS = 86_400_000;

/** Days since 1970-01-01. @throws {RangeError} When `date` is not a real calendar day. */
export function dayNumber(date: IsoDate): number {
  const known = read.get(date);
  if (known !== undefined) return known;
  const ms = Date.parse(`${date}T00:00:00Z`);
  if (!/^\d{4}-\d{2}-\d{2}$/.test(date) || Number.isNaN(ms) || isoDate(ms / DAY_MS) !== date) {
    throw new RangeError(`not a calendar day: ${date}`);
  }
  if (read.size < MOST_KEPT) read.set(date, ms / DAY_MS);
  return ms / DAY_MS;
}

/** The calendar day `days` after 1970-01-01; a fraction is cut off. */
export function isoDate(days: number): IsoDate {
  const day = Math.floor(days);
  const known = written[day];
  if (known !== undefined) return known;
  const date = new Date(day * DAY_MS).toISOString().slice(0, 10);
  if (day >= 0 && day < DAYS_KEPT) written[day] = date;
  return date;
}

/** A night writes and reads the same few thousand days a million times. From 1970 on, so that the array has no holes to look behind. */
const DAYS_KEPT = 50_000;
const written: IsoDate[] = new Array(DAYS_KEPT);
const read = new Map<IsoDate, number>();
const MOST_KEPT = 20_000;

export function addDays(date: IsoDate, days: number): IsoDate {
  return isoDate(dayNumber(date) + days);
}

/** Whole days from `from` to `to`; negative when `to` is earlier. */
export function daysBetween(from: IsoDate, to: IsoDate): number {
  return dayNumber(to) - dayNumber(from);
}

export function weekdayOf(date: IsoDate): Weekday {
  return WEEKDAYS[(((dayNumber(date) + 4) % 7) + 7) % 7]!;
}

/** Every month that has a day between two days, both included, as `YYYY-MM`. */
export function monthsOf(fromDay: IsoDate, toDay: IsoDate): string[] {
  const number = (day: IsoDate): number => 12 * Number(day.slice(0, 4)) + Number(day.slice(5, 7)) - 1;
  const first = number(fromDay);
  return Array.from({ length: Math.max(0, number(toDay) - first + 1) }, (_, i) => {
    const month = first + i;
    return `${String(Math.floor(month / 12)).padStart(4, '0')}-${String((month % 12) + 1).padStart(2, '0')}`;
  });
}
