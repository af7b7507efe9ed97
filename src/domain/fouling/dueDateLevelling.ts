import type { OwnerSettings } from '../work/settings.js';
import type { DueDate } from './dueDateInput.js';
import type { DueRule } from './dueDateReason.js';

/** A visit that would be the first to measure anything, wanted now. */
export interface FirstSurvey {
  /** Of the system, or whatever is visited as one. */
  id: string;
  /** The lower the yearly risk a line may run, the worse its plug: those are seen first. */
  yearlyRisk: number;
  plugWithinYear: number;
  /** Day it was given on an earlier night; null when new. */
  givenDay: number | null;
}

const PROMISED: ReadonlySet<DueRule> = new Set([
  'care_terms',
  'after_plug',
  'recheck',
  'limit_passed',
  'refused',
  'postponed',
]);

/** Whether a line waits for its first survey: nothing measured, and nothing promised or told by its past. */
export function isFirstSurvey(
  due: Pick<DueDate, 'rule' | 'dueDay'>,
  readingsUsed: number,
  asOfDay: number,
): boolean {
  return readingsUsed === 0 && due.dueDay !== null && due.dueDay <= asOfDay && !PROMISED.has(due.rule);
}

const MONDAY = 4;
const WORKING_DAYS = 5;

/**
 * Days of the first surveys: an imported book is not all due today, but so many a week, worst consequence first.
 * Who was given a day keeps it; the others take the free places from `fromDay` on, Monday to Friday.
 */
export function levelFirstSurveys(
  surveys: readonly FirstSurvey[],
  fromDay: number,
  { surveys: { perWeek } }: Pick<OwnerSettings, 'surveys'>,
): Map<string, number> {
  if (!(perWeek > 0)) throw new RangeError(`first surveys a week must be above 0, not ${perWeek}`);
  const days = new Map<string, number>();
  const taken = new Map<number, number>();
  const weekOf = (day: number): number => Math.floor((day - MONDAY) / 7);
  const take = (id: string, day: number): void => {
    days.set(id, day);
    taken.set(weekOf(day), (taken.get(weekOf(day)) ?? 0) + 1);
  };
  for (const { id, givenDay } of surveys) if (givenDay !== null) take(id, givenDay);
  const waiting = surveys
    .filter(({ givenDay }) => givenDay === null)
    .sort(
      (a, b) => a.yearlyRisk - b.yearlyRisk || b.plugWithinYear - a.plugWithinYear || (a.id < b.id ? -1 : 1),
    );
  let week = weekOf(fromDay);
  const friday = MONDAY + WORKING_DAYS - 1;
  if (7 * week + friday < fromDay) week++;
  for (const { id } of waiting) {
    while ((taken.get(week) ?? 0) >= perWeek) week++;
    const place = Math.floor(((taken.get(week) ?? 0) * WORKING_DAYS) / perWeek);
    take(id, Math.max(fromDay, 7 * week + MONDAY + place));
  }
  return days;
}
