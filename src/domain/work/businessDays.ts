import { addDays, type IsoDate, weekdayOf } from '../calendar/isoDate.js';

/** Days on which utilities answer: no weekend, no holiday of the rule's own list. */
export function isBusinessDay(day: IsoDate, holidays: readonly IsoDate[]): boolean {
  const weekday = weekdayOf(day);
  return weekday !== 'sat' && weekday !== 'sun' && !holidays.includes(day);
}

export function nextBusinessDay(day: IsoDate, holidays: readonly IsoDate[]): IsoDate {
  let next = day;
  // A list of holidays that left no day free would be a slip: a year is looked at.
  for (let i = 0; i < 366; i++) {
    if (isBusinessDay(next, holidays)) return next;
    next = addDays(next, 1);
  }
  throw new RangeError(`no business day within a year of ${day}`);
}

/** The day `count` business days after a day; the day itself where `count` is 0. */
export function addBusinessDays(day: IsoDate, count: number, holidays: readonly IsoDate[]): IsoDate {
  let at = day;
  for (let i = 0; i < count; i++) at = nextBusinessDay(addDays(at, 1), holidays);
  return at;
}
