import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import type { OnProgress } from './csvBytes.js';
import { FaultList } from './csvFault.js';
import type { RowFaultNote } from './csvRow.js';

const DAY_MS = 86_400_000;
const SHOWN_FAULTS = 200;

export interface ReadingOptions {
  onProgress?: OnProgress;
  /**
   * First instant after the as-of day, milliseconds since 1970. Without it the day is held to last as long as
   * it does anywhere on earth (noon UTC of the next day).
   */
  asOfEndsAtMs?: number;
  /** How many faults are told in full; all are counted. */
  shownFaults?: number;
}

/** What the reading of all files of one set shares. */
export interface Reading {
  asOf: IsoDate;
  asOfEndsAtMs: number;
  onProgress: OnProgress | undefined;
  faults: FaultList;
}

export function newReading(asOf: IsoDate, options: ReadingOptions): Reading {
  return {
    asOf,
    asOfEndsAtMs: options.asOfEndsAtMs ?? (dayNumber(asOf) + 1.5) * DAY_MS,
    onProgress: options.onProgress,
    faults: new FaultList(options.shownFaults ?? SHOWN_FAULTS),
  };
}

/**
 * Ids that stood in a file and the line of each, those of refused rows too: one bad cell must not make every
 * row that refers to its row look wrong.
 */
export interface Ids {
  lineOf: Map<string, number>;
  /** False when the file could not be read to its end: an id not seen may still be good. */
  whole: boolean;
}

/** Takes an id; an id taken before is a fault. @returns Whether it is new. */
export function takeId(ids: Ids, column: string, id: string, line: number, note: RowFaultNote): boolean {
  const first = ids.lineOf.get(id);
  if (first === undefined) {
    if (id !== '') ids.lineOf.set(id, line);
    return true;
  }
  const remedy = 'give each its own id, or remove one of the rows';
  note(column, id, `the id is doubled: line ${first} has it too`, remedy);
  return false;
}

/** A day after today is a fault in a record of what has been. */
export function checkNotLater(
  column: string,
  day: IsoDate | null,
  { asOf }: Reading,
  note: RowFaultNote,
): void {
  if (day !== null && day > asOf) note(column, day, `lies after today, ${asOf}`, 'correct the day');
}

export const noIds = (): Ids => ({ lineOf: new Map(), whole: true });
