import type { ReadingRow } from '../actions/clientBase.js';
import { addDays, daysBetween, type IsoDate } from '../domain/calendar/isoDate.js';

/** As of so many days ago a forecast is kept, for what was found since to be held against. */
export const FORECAST_DAYS_AGO = 90;
/** Deposit hardens in no less: a line cleaned since then was not yet due. */
const NOT_DUE_DAYS = 75;
const LONG_DUE_DAYS = 110;

/**
 * Two lines plug in the last months: one whose visit was long put off, as anybody could tell, and one soon after a
 * clean, where old crust broke loose. The plug stands in place of what their crew would have read.
 */
export function withPlugs(readings: readonly ReadingRow[], asOf: IsoDate): ReadingRow[] {
  const kept = addDays(asOf, -FORECAST_DAYS_AGO);
  const visits = visitsBetween(readings, kept);
  const putOff = most(
    visits.filter(({ days }) => days > LONG_DUE_DAYS),
    ({ reading }) => reading.occlusion ?? 0,
  );
  const sudden = most(
    visits.filter(({ days, reading }) => days < NOT_DUE_DAYS && reading.lineId !== putOff?.reading.lineId),
    ({ reading }) => -(reading.occlusion ?? 1),
  );
  const notes = new Map([
    [putOff?.reading, 'Solid with ochre from end to end; its visit had been put off.'],
    [sudden?.reading, 'A slab of old crust had come loose and stuck at the bend.'],
  ]);
  return readings.map((reading) => {
    const note = notes.get(reading);
    return note === undefined
      ? reading
      : { ...reading, method: null, occlusion: null, plugged: true, plugCause: 'deposit', note };
  });
}

interface Between {
  reading: ReadingRow;
  /** Since the clean before. */
  days: number;
}

/** First cleans since a day, read with an occlusion, of lines that were cleaned before it too. */
function visitsBetween(readings: readonly ReadingRow[], since: IsoDate): Between[] {
  const cleanedOn = new Map<string, IsoDate>();
  const found: Between[] = [];
  for (const reading of readings) {
    if (reading.phase !== 'before_cleaning') continue;
    const day = reading.observedAt.slice(0, 10);
    const before = cleanedOn.get(reading.lineId);
    if (before !== undefined && before < since && day > since && reading.occlusion !== null)
      found.push({ reading, days: daysBetween(before, day) });
    cleanedOn.set(reading.lineId, day);
  }
  return found;
}

function most(visits: readonly Between[], rank: (visit: Between) => number): Between | undefined {
  return [...visits].sort((a, b) => rank(b) - rank(a))[0];
}
