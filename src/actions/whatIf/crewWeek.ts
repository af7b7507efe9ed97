import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { absencesOf, type Books, secondsOf, shiftOf } from '../plans/books.js';
import type { Row } from '../ports.js';
import type { WhatIf } from './whatIfAsk.js';

const WEEK_DAYS = 7;

/** What crews can work in a week. */
export interface CrewWeek {
  hours: number;
  /** Shifts of crews. */
  shifts: number;
}

/** The shifts of a week and their crew-hours, breaks and absences of whole crews left out, as asked. */
export function crewWeek(books: Books, monday: IsoDate, asked: WhatIf): CrewWeek {
  const days = Array.from({ length: WEEK_DAYS }, (_, i) => addDays(monday, i));
  const there = { hours: 0, shifts: 0 };
  const usual = { hours: 0, shifts: 0 };
  for (const crew of books.crews) {
    for (const day of days) {
      const hours = shiftHours(books, crew, day);
      if (hours <= 0) continue;
      for (const sum of isAway(books, crew, day, asked) ? [usual] : [usual, there]) {
        sum.hours += hours;
        sum.shifts++;
      }
    }
  }
  const crews = books.crews.length === 0 ? 0 : asked.extraCrews / books.crews.length;
  return {
    hours: Math.max(0, there.hours + crews * usual.hours),
    shifts: Math.max(0, there.shifts + crews * usual.shifts),
  };
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
