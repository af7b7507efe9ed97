import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { CrewShift } from '../../domain/work/onCall.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { absencesOf, type Books, lateCallOuts, secondsOf, shiftOf } from '../plans/books.js';
import { peopleOn, restBefore } from '../plans/crewDays.js';
import type { Row } from '../ports.js';

/** Who works when: as much of the books as that takes. */
export type ShiftBooks = Pick<
  Books,
  'crews' | 'shifts' | 'holidays' | 'absences' | 'memberships' | 'callOuts' | 'restHours' | 'routes'
>;

export async function openShiftBooks(stores: Stores, today: IsoDate): Promise<ShiftBooks> {
  const { rows } = stores;
  return {
    crews: await rows.all('crew', [{ column: 'archived_on', is: 'null' }], 'name'),
    shifts: await rows.all('shift', []),
    holidays: await rows.all('holiday', [{ column: 'archived_on', is: 'null' }]),
    absences: await rows.all('absence', [
      { column: 'to_day', is: '>=', value: addDays(today, -1) },
      { column: 'withdrawn_at', is: 'null' },
    ]),
    memberships: await rows.all('crew_membership', []),
    ...(await lateCallOuts(stores, today)),
    routes: (await ownerSettings(stores)).routes,
  };
}

export interface WorkedShift extends CrewShift {
  crew: Row;
  day: IsoDate;
  /** Seconds after midnight as the shift has it, whatever keeps the crew. */
  shiftStart: number;
  shiftEnd: number;
  breakMinutes: number;
  people: number;
  /** Persons who rest that day of a call-out. */
  resting: string[];
  /** Starts later: somebody of it rests until then. */
  restsUntil: number | null;
}

/** A crew's shift of a day as it can be worked; null: no shift, all away, or not back that day. */
export function workedShift(house: House, books: ShiftBooks, crew: Row, day: IsoDate): WorkedShift | null {
  const shift = shiftOf(books, crew['id'], day);
  if (!shift) return null;
  const start = secondsOf(String(shift['starts_at']));
  const end = secondsOf(String(shift['ends_at']));
  const rest = restBefore(house, books, crew, day, { start, end });
  const people = peopleOn(books, crew, day) - rest.resting.length;
  const at = (seconds: number) => house.zone.instantOf(day, seconds).getTime();
  const away = absencesOf(books, 'crew_id', crew['id'], day).filter((row) => row['people'] === null);
  const back = away.map((row) => (row['back_at'] === null ? Infinity : Date.parse(String(row['back_at']))));
  const from = Math.max(at(rest.untilSeconds), ...back);
  if (people <= 0 || from >= at(end)) return null;
  return {
    crew,
    crewId: String(crew['id']),
    day,
    from,
    to: at(end),
    shiftStart: start,
    shiftEnd: end,
    breakMinutes: Number(shift['break_minutes']),
    people,
    resting: rest.resting,
    restsUntil: rest.untilSeconds > start ? at(rest.untilSeconds) : null,
  };
}

/** Shifts that are worked between two days, both included. */
export function workedShifts(
  house: House,
  books: ShiftBooks,
  fromDay: IsoDate,
  toDay: IsoDate,
): WorkedShift[] {
  const shifts: WorkedShift[] = [];
  for (let day = fromDay; day <= toDay; day = addDays(day, 1))
    for (const crew of books.crews) {
      const shift = workedShift(house, books, crew, day);
      if (shift) shifts.push(shift);
    }
  return shifts;
}
