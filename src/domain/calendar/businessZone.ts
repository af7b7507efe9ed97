import { Temporal } from 'temporal-polyfill';
import type { IsoDate } from './isoDate.js';

/** The business's zone: which day it is there, and when a local time of that day is. */
export interface BusinessZone {
  readonly name: string;
  dayOf(instant: Date): IsoDate;
  /** Its local time of day, `HH:MM`. */
  timeOf(instant: Date): string;
  /** Days since 1970-01-01 by its own wall clock, with the part of the day: 20:00 is .8333, whatever UTC says. */
  dayNumberAt(instantMs: number): number;
  /** A local time that a clock change skips moves to the first moment after; one that comes twice is the first. */
  instantOf(day: IsoDate, secondsAfterMidnight: number): Date;
}

const DAY_MS = 86_400_000;
const WEEK_MS = 7 * DAY_MS;

/** Milliseconds the zone is ahead of UTC at an instant; looked up once a week of the calendar, for millions of them. */
function offsetsOf(name: string): (instantMs: number) => number {
  const at = (ms: number): number =>
    Temporal.Instant.fromEpochMilliseconds(ms).toZonedDateTimeISO(name).offsetNanoseconds / 1_000_000;
  const weeks = new Map<number, { before: number; changesAt: number; after: number }>();
  return (instantMs) => {
    const week = Math.floor(instantMs / WEEK_MS);
    let known = weeks.get(week);
    if (known === undefined) {
      let [from, to] = [week * WEEK_MS, (week + 1) * WEEK_MS];
      const [before, after] = [at(from), at(to)];
      while (before !== after && to - from > 1) {
        const middle = Math.floor((from + to) / 2);
        if (at(middle) === before) from = middle;
        else to = middle;
      }
      known = { before, changesAt: to, after };
      weeks.set(week, known);
    }
    return instantMs < known.changesAt ? known.before : known.after;
  };
}

const MOST_KEPT = 100_000;

/** The same answers, each worked out once as long as not too many are kept. */
function kept<K, V>(work: (key: K) => V): (key: K) => V {
  const known = new Map<K, V>();
  return (key) => {
    let value = known.get(key);
    if (value === undefined) {
      value = work(key);
      if (known.size >= MOST_KEPT) known.clear();
      known.set(key, value);
    }
    return value;
  };
}

/** @throws {RangeError} When there is no such IANA zone. */
export function businessZone(name: string): BusinessZone {
  Temporal.Instant.fromEpochMilliseconds(0).toZonedDateTimeISO(name);
  const offsets = offsetsOf(name);
  // By quarter of an hour: every offset in use is a multiple of it.
  const dayIn = kept(
    (quarter: number): IsoDate =>
      Temporal.Instant.fromEpochMilliseconds(quarter * 900_000)
        .toZonedDateTimeISO(name)
        .toPlainDate()
        .toString(),
  );
  const instantAt = kept((dayAndSeconds: string): number => {
    const [day = '', seconds] = dayAndSeconds.split(' ');
    const local = Temporal.PlainDate.from(day)
      .toPlainDateTime()
      .add({ seconds: Number(seconds) });
    return local.toZonedDateTime(name, { disambiguation: 'compatible' }).epochMilliseconds;
  });
  return {
    name,
    dayOf: (instant) => dayIn(Math.floor(instant.getTime() / 900_000)),
    dayNumberAt: (instantMs) => (instantMs + offsets(instantMs)) / DAY_MS,
    timeOf(instant) {
      const local = Temporal.Instant.fromEpochMilliseconds(instant.getTime()).toZonedDateTimeISO(name);
      return local.toPlainTime().toString({ smallestUnit: 'minute' });
    },
    instantOf: (day, secondsAfterMidnight) =>
      new Date(instantAt(`${day} ${Math.round(secondsAfterMidnight)}`)),
  };
}
