import { addDays, dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { chanceBy } from '../../domain/fouling/selfScore.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import type { LinesAsked } from './lineFilter.js';

export interface DueWeek {
  /** Null: due before today. */
  monday: IsoDate | null;
  lines: number;
  sites: number;
  /** Of the lines: those kept to by care terms. */
  byCareTerms: number;
}

/** Lines that are late by so many days, and their danger now. */
export interface LateLines {
  fromDays: number;
  /** Null: and more. */
  toDays: number | null;
  lines: number;
  /** Held past their action limit now as likely as not. */
  likelyPastAction: number;
  /** Expected to be plugged now, nobody having come. */
  expectedPlugged: number;
}

/** About one, three and six months. */
const LATE_FROM_DAYS = [1, 31, 92, 183];
/** As likely as not (common practice, no source). */
const LIKELY = 0.5;

/** Lines due in this week and the ones after, and those that are late. A line is counted once, on its next day. */
export async function dueWeeks(
  { stores }: House,
  asked: LinesAsked,
  weeks: number,
): Promise<{ lines: number; later: number; never: number; late: LateLines[]; items: DueWeek[] }> {
  const rows = await stores.reports.trends(asked);
  const today = dayNumber(asked.today);
  const first = mondayOf(today);
  const byWeek: Row[][] = Array.from({ length: weeks + 1 }, () => []);
  let later = 0;
  let never = 0;
  for (const row of rows) {
    if (row['due_on'] === null) {
      never++;
      continue;
    }
    const day = dayNumber(String(row['due_on']));
    const week = day < today ? 0 : 1 + Math.floor((day - first) / 7);
    const place = byWeek[week];
    if (place) place.push(row);
    else later++;
  }
  const items = byWeek.map((own, week) => ({
    monday: week === 0 ? null : addDays(isoDate(first), 7 * (week - 1)),
    lines: own.length,
    sites: new Set(own.map((row) => row['site_id'])).size,
    byCareTerms: own.filter((row) => row['due_rule'] === 'care_terms').length,
  }));
  return { lines: rows.length, later, never, late: lateLines(byWeek[0] ?? [], today), items };
}

function lateLines(rows: readonly Row[], today: number): LateLines[] {
  return LATE_FROM_DAYS.map((fromDays, i) => {
    const toDays = (LATE_FROM_DAYS[i + 1] ?? Infinity) - 1;
    const own = rows.filter((row) => {
      const days = today - dayNumber(String(row['due_on']));
      return days >= fromDays && days <= toDays;
    });
    const now = (row: Row, chances: string): number =>
      chanceBy(row[chances] as number[], today - dayNumber(String(row['as_of'])));
    return {
      fromDays,
      toDays: Number.isFinite(toDays) ? toDays : null,
      lines: own.length,
      likelyPastAction: own.filter((row) => now(row, 'action_chances') >= LIKELY).length,
      expectedPlugged: own.reduce((sum, row) => sum + now(row, 'plug_chances'), 0),
    };
  });
}

const MONDAY = 4;

/** Day number of the Monday of a day's week. */
export const mondayOf = (day: number): number => 7 * Math.floor((day - MONDAY) / 7) + MONDAY;
