import type { UnitSystem } from '../units/quantity.js';
import { dayNumber, type IsoDate, weekdayOf } from './isoDate.js';

/** Keeps the parts of a day or time on one line. */
const NO_BREAK = '\u00A0';

export const MONTHS = [
  'Jan',
  'Feb',
  'Mar',
  'Apr',
  'May',
  'Jun',
  'Jul',
  'Aug',
  'Sep',
  'Oct',
  'Nov',
  'Dec',
] as const;
const WEEKDAY_NAMES = {
  sun: 'Sun',
  mon: 'Mon',
  tue: 'Tue',
  wed: 'Wed',
  thu: 'Thu',
  fri: 'Fri',
  sat: 'Sat',
} as const;

/** "4 Jun 2026": day and month cannot be taken for each other on either side of an ocean. */
export function dayText(date: IsoDate): string {
  dayNumber(date);
  const [year = '', month = '1', day = '1'] = date.split('-');
  return `${Number(day)}${NO_BREAK}${MONTHS[Number(month) - 1] ?? ''}${NO_BREAK}${year}`;
}

/** "Jun 2026", of a month `YYYY-MM`. */
export function monthText(month: string): string {
  const [year = '', number = '1'] = month.split('-');
  return `${MONTHS[Number(number) - 1] ?? ''}${NO_BREAK}${year}`;
}

export function weekdayText(date: IsoDate): string {
  return `${WEEKDAY_NAMES[weekdayOf(date)]}${NO_BREAK}${dayText(date)}`;
}

/** Seconds since midnight as "7:30", past midnight as "0:20 +1"; US papers say "7:30 am". */
export function clockText(seconds: number, system: UnitSystem): string {
  const minutes = Math.round(seconds / 60);
  const day = Math.floor(minutes / 1440);
  const hour = Math.floor(minutes / 60) - 24 * day;
  const minute = String(minutes % 60).padStart(2, '0');
  const next = day > 0 ? `${NO_BREAK}+${day}` : '';
  if (system === 'metric') return `${hour}:${minute}${next}`;
  return `${hour % 12 === 0 ? 12 : hour % 12}:${minute}${NO_BREAK}${hour < 12 ? 'am' : 'pm'}${next}`;
}
