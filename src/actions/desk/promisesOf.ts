import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { standingOfPromise } from '../../domain/work/promiseKept.js';
import type { House, Stores } from '../house.js';
import { absencesOf, holidayOn } from '../plans/books.js';
import type { Row } from '../ports.js';
import { openShiftBooks, type ShiftBooks, workedShift } from './crewShifts.js';

export type PromiseStanding = 'kept' | 'planned' | 'early' | 'late' | 'other_day' | 'nowhere' | 'ended';

/** A promise of a day, who was told, and whether what crews drive keeps it. */
export interface DayPromise {
  row: Row;
  standing: PromiseStanding;
  text: string;
}

/** Promises of the days, with how they stand now. */
export async function promisesOf(
  house: House,
  stores: Stores,
  fromDay: IsoDate,
  toDay: IsoDate,
): Promise<DayPromise[]> {
  const promises = await stores.desk.promises(fromDay, toDay);
  if (promises.length === 0) return [];
  const today = house.zone.dayOf(house.clock.now());
  const books = await openShiftBooks(stores, [today, fromDay].sort()[0] ?? today);
  return promises.map((row) => {
    const standing = standingOf(house, row);
    const idle =
      standing === 'planned' || standing === 'early' || standing === 'late'
        ? idleText(house, books, row)
        : null;
    if (idle !== null) return { row, standing: 'nowhere', text: idle };
    return { row, standing, text: WORDS[standing](row) };
  });
}

/** Stands on the route of a crew that does not work that day (any more): why; null: it works. */
function idleText(house: House, books: ShiftBooks, row: Row): string | null {
  const day = String(row['planned_day']);
  const crew = books.crews.find((each) => each['id'] === row['crew_id']);
  if (day < house.zone.dayOf(house.clock.now()) || (crew && workedShift(house, books, crew, day)))
    return null;
  const holiday = holidayOn(books, day);
  const away = absencesOf(books, 'crew_id', row['crew_id'], day).find((each) => each['people'] === null);
  const why = holiday?.['name'] ?? away?.['reason'];
  return `Stands on the route of ${String(row['crew_name'])}, which does not work that day${why ? ` (${String(why)})` : ''}: plan anew, or phone.`;
}

function standingOf(house: House, row: Row): PromiseStanding {
  if (row['ended_at'] !== null) return 'ended';
  const at = row['came_at'] ?? row['planned_at'];
  if (at === null || (row['planned_day'] === null && row['came_at'] === null)) return 'nowhere';
  const instant = new Date(String(at));
  const day = house.zone.dayOf(instant);
  const told = {
    day: String(row['day']),
    from: row['from_time'] as string | null,
    to: row['to_time'] as string | null,
  };
  const seconds = (instant.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000;
  const standing = standingOfPromise(told, { day, seconds });
  if (standing !== 'kept') return standing;
  return row['came_at'] === null ? 'planned' : 'kept';
}

const WORDS: Record<PromiseStanding, (row: Row) => string> = {
  kept: () => 'The crew came as promised.',
  planned: (row) => `${String(row['crew_name'])} comes as promised.`,
  early: () => 'The crew comes before the hours told: phone.',
  late: () => 'The crew comes after the hours told: phone.',
  other_day: (row) => `Stands on ${String(row['planned_day'] ?? 'another day')}: phone.`,
  nowhere: () => 'No crew drives there: phone, or place the order.',
  ended: (row) => `Ended: ${String(row['ended_because'] ?? 'no reason on record')}.`,
};
