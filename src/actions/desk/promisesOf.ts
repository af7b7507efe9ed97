import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { secondsOf } from '../plans/books.js';
import type { Row } from '../ports.js';

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
  return (await stores.desk.promises(fromDay, toDay)).map((row) => {
    const standing = standingOf(house, row);
    return { row, standing, text: WORDS[standing](row) };
  });
}

function standingOf(house: House, row: Row): PromiseStanding {
  if (row['ended_at'] !== null) return 'ended';
  const at = row['came_at'] ?? row['planned_at'];
  if (at === null || (row['planned_day'] === null && row['came_at'] === null)) return 'nowhere';
  const instant = new Date(String(at));
  const day = String(row['day']);
  if (house.zone.dayOf(instant) !== day) return 'other_day';
  const seconds = (instant.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000;
  if (row['from_time'] !== null && seconds < secondsOf(String(row['from_time']))) return 'early';
  if (row['to_time'] !== null && seconds > secondsOf(String(row['to_time']))) return 'late';
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
