import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { LinePace } from '../domain/fouling/linePace.js';
import { depthShareOfBlocked } from '../domain/hydraulics/segment.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { dayText, numberText, quantityText, shareText } from './printed.js';

/** A line's pace in words with which a date can be followed: over which months, beside the year's mean, and what else is in the dates. */
export function paceText(
  pace: LinePace,
  boreMm: number | null,
  units: UnitSystem,
  pluggedSince: IsoDate | null = null,
): string {
  if (pluggedSince !== null)
    return (
      `Found plugged on ${dayText(pluggedSince)}, and no clean since is on record: it is shown as plugged until one is. ` +
      `Before that it was believed to foul by ${shareText(pace.yearlyMean, 1)} of the bore a month, in the mean of a year from empty to half full.`
    );
  const { from, to, occlusionFrom, occlusionTo, perMonth, yearlyMean, season } = pace;
  const bed = (share: number): string =>
    boreMm === null
      ? shareText(share)
      : `${shareText(share)} (lying flat ${quantityText(depthShareOfBlocked(share) * boreMm, 'bore', units)} deep)`;
  const dates =
    season === null
      ? 'growth that changes with the level is'
      : `${seasonText(season)} and growth that changes with the level are`;
  return (
    `If nobody cleans, from ${bed(occlusionFrom)} blocked on ${dayText(from)} to ${bed(occlusionTo)} on ${dayText(to)}: ` +
    `${shareText(perMonth, 1)} of the bore a month in these months. In the mean of a year, from empty to half full, it is ${shareText(yearlyMean, 1)} a month: ` +
    `no date is reckoned by that alone, ${dates} in the dates.`
  );
}

const times = (ratio: number): string => numberText(ratio, 1);

const ofMean = (ratio: number): string =>
  times(ratio) === times(1) ? 'the mean' : `${times(ratio)} times the mean`;

const seasonText = ({ ofYear, fastestOn, fastest }: NonNullable<LinePace['season']>): string =>
  `the base's season (${ofMean(ofYear)} in these months, ${times(fastest)} times it about ${dayText(fastestOn)})`;
