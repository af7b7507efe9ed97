import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { absencesOf, type Books, secondsOf, shiftOf } from '../plans/books.js';
import type { Row } from '../ports.js';
import type { WhatIf } from './whatIfAsk.js';

const WEEK_DAYS = 7;

/** Crew-hours of the shifts of a week, breaks and absences of whole crews left out, as asked. */
export function crewHours(books: Books, monday: IsoDate, asked: WhatIf): number {
  const days = Array.from({ length: WEEK_DAYS }, (_, i) => addDays(monday, i));
  let hours = 0;
  let usual = 0;
  for (const crew of books.crews) {
    for (const day of days) {
      const worked = shiftHours(books, crew, day);
      usual += worked;
      if (!isAway(books, crew, day, asked)) hours += worked;
    }
  }
  const extra = books.crews.length === 0 ? 0 : (asked.extraCrews * usual) / books.crews.length;
  return Math.max(0, hours + extra);
}

function shiftHours(books: Books, crew: Row, day: IsoDate): number {
  const shift = shiftOf(books, crew['id'], day);
  if (!shift) return 0;
  const seconds = secondsOf(String(shift['ends_at'])) - secondsOf(String(shift['starts_at']));
  return seconds / 3600 - Number(shift['break_minutes']) / 60;
}

function isAway(books: Books, crew: Row, day: IsoDate, { lostCrews }: WhatIf): boolean {
  const whole = absencesOf(books, 'crew_id', crew['id'], day).some((row) => row['people'] === null);
  return (
    whole ||
    lostCrews.some(({ crewId, fromDay, toDay }) => crewId === crew['id'] && fromDay <= day && day <= toDay)
  );
}
