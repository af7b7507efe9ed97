import { Temporal } from 'temporal-polyfill';
import type { IsoDate } from './isoDate.js';

/** The business's zone: which day it is there, and when a local time of that day is. */
export interface BusinessZone {
  readonly name: string;
  dayOf(instant: Date): IsoDate;
  /** Its local time of day, `HH:MM`. */
  timeOf(instant: Date): string;
  /** A local time that a clock change skips moves to the first moment after; one that comes twice is the first. */
  instantOf(day: IsoDate, secondsAfterMidnight: number): Date;
}

/** @throws {RangeError} When there is no such IANA zone. */
export function businessZone(name: string): BusinessZone {
  Temporal.Instant.fromEpochMilliseconds(0).toZonedDateTimeISO(name);
  const days = new Map<number, IsoDate>(); // by quarter of an hour: every offset in use is a multiple of it
  return {
    name,
    dayOf(instant) {
      const quarter = Math.floor(instant.getTime() / 900_000);
      let day = days.get(quarter);
      if (day === undefined) {
        day = Temporal.Instant.fromEpochMilliseconds(quarter * 900_000)
          .toZonedDateTimeISO(name)
          .toPlainDate()
          .toString();
        if (days.size > 100_000) days.clear();
        days.set(quarter, day);
      }
      return day;
    },
    timeOf(instant) {
      const local = Temporal.Instant.fromEpochMilliseconds(instant.getTime()).toZonedDateTimeISO(name);
      return local.toPlainTime().toString({ smallestUnit: 'minute' });
    },
    instantOf(day, secondsAfterMidnight) {
      const local = Temporal.PlainDate.from(day)
        .toPlainDateTime()
        .add({ seconds: Math.round(secondsAfterMidnight) });
      return new Date(local.toZonedDateTime(name, { disambiguation: 'compatible' }).epochMilliseconds);
    },
  };
}
