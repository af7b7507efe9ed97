import type { IsoDate } from '../calendar/isoDate.js';

/**
 * What a book of readings says of a line's beginning.
 *
 * A line first seen soon after it was laid was not cleaned before and started clean; of an older one nobody
 * knows. A book that keeps only so many readings a line has lost the earlier visits of a line at that cap, so
 * its start is unknown however new the pipe. Both numbers: common practice, no source.
 */
const BOOK_KEEPS_READINGS = 12;
const STARTS_CLEAN_WITHIN_DAYS = 1100;

/**
 * @param laidDay   Day number the line was laid on; null when unknown.
 * @param firstDay  Day number of its first record, or today when there is none.
 * @param readings  Records the book holds of it.
 */
export function startsClean(laidDay: number | null, firstDay: number, readings: number): boolean {
  if (laidDay === null || laidDay > firstDay) return false;
  return readings < BOOK_KEEPS_READINGS && firstDay - laidDay <= STARTS_CLEAN_WITHIN_DAYS;
}

/**
 * Day on which a line was laid from end to end: its own, else the one that all its sections have in common; null when
 * neither says.
 *
 * @param sections Days on which the stretches that are there now were laid.
 */
export function laidDay(line: IsoDate | null, sections: readonly (IsoDate | null)[]): IsoDate | null {
  const [first = null] = sections;
  return line ?? (sections.every((day) => day === first) ? first : null);
}
