import type { IsoDate } from '../calendar/isoDate.js';
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
): Hindrance[] {
  if (told === null) return [];
  const standing = standingOfPromise(told, start);
  if (standing === 'kept') return [];
  return [
    {
      code: 'promise_broken',
      facts: { recordIds: [told.id], standing, day: told.day, from: told.from, to: told.to },
      text: brokenText(told, start, crewName),
    },
  ];
}

/** "its client was promised 2026-10-02 14:00 to 16:00, and Heron comes at 07:11: move it, or phone". */
function brokenText(
  told: Omit<ToldVisit, 'id'>,
  start: { day: IsoDate; seconds: number },
  crewName: string,
): string {
  const on = start.day === told.day ? '' : ` on ${start.day}`;
  return `its client was promised ${promiseText(told)}, and ${crewName} comes at ${clock(start.seconds)}${on}: move it, or phone`;
}

function promiseText({ day, from, to }: Omit<ToldVisit, 'id'>): string {
  const [begin, end] = [from?.slice(0, 5), to?.slice(0, 5)];
  if (begin && end) return `${day} ${begin} to ${end}`;
  if (begin) return `${day} from ${begin} on`;
  return end ? `${day} before ${end}` : day;
}

function secondsOf(time: string): number {
  const [hours = 0, minutes = 0] = time.split(':').map(Number);
  return hours * 3600 + minutes * 60;
}

const clock = (seconds: number): string =>
  [Math.floor(seconds / 3600), Math.floor((seconds % 3600) / 60)]
    .map((part) => String(part).padStart(2, '0'))
    .join(':');
