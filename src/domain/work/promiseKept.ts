import type { IsoDate } from '../calendar/isoDate.js';
import { clockText, weekdayText } from '../calendar/saidDay.js';
import type { UnitSystem } from '../units/quantity.js';
import type { Hindrance } from './hindrances.js';

/** A day and hours told to a client; times as HH:MM or HH:MM:SS, null: any. */
export interface ToldVisit {
  id: string;
  day: IsoDate;
  from: string | null;
  to: string | null;
}

/** How a visit that begins so many seconds after midnight of a day stands to what its client was told. */
export function standingOfPromise(
  { day, from, to }: Omit<ToldVisit, 'id'>,
  start: { day: IsoDate; seconds: number },
): 'kept' | 'early' | 'late' | 'other_day' {
  if (start.day !== day) return 'other_day';
  if (from !== null && start.seconds < secondsOf(from)) return 'early';
  if (to !== null && start.seconds > secondsOf(to)) return 'late';
  return 'kept';
}

/** A promise that a planned visit breaks; empty: it keeps it, or nobody was told anything. */
export function brokenPromise(
  told: ToldVisit | null,
  start: { day: IsoDate; seconds: number },
  crewName: string,
  units: UnitSystem,
): Hindrance[] {
  if (told === null) return [];
  const standing = standingOfPromise(told, start);
  if (standing === 'kept') return [];
  return [
    {
      code: 'promise_broken',
      facts: { recordIds: [told.id], standing, day: told.day, from: told.from, to: told.to },
      text: brokenText(told, start, crewName, units),
    },
  ];
}

/** "its client was promised Fri 2 Oct 2026, 2:00 pm to 4:00 pm, and Heron comes at 7:11 am: move it, or phone". */
function brokenText(
  told: Omit<ToldVisit, 'id'>,
  start: { day: IsoDate; seconds: number },
  crewName: string,
  units: UnitSystem,
): string {
  const on = start.day === told.day ? '' : ` on ${weekdayText(start.day)}`;
  const comes = `${crewName} comes at ${clockText(start.seconds, units)}${on}`;
  return `its client was promised ${promiseText(told, units)}, and ${comes}: move it, or phone`;
}

function promiseText({ day, from, to }: Omit<ToldVisit, 'id'>, units: UnitSystem): string {
  const [begin, end] = [from, to].map((time) => (time ? clockText(secondsOf(time), units) : null));
  const on = weekdayText(day);
  if (begin && end) return `${on}, ${begin} to ${end}`;
  if (begin) return `${on}, from ${begin} on`;
  return end ? `${on}, before ${end}` : on;
}

function secondsOf(time: string): number {
  const [hours = 0, minutes = 0] = time.split(':').map(Number);
  return hours * 3600 + minutes * 60;
}
