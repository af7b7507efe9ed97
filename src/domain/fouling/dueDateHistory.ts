import { dayNumber, isoDate } from '../calendar/isoDate.js';
import type { Method } from '../words.js';
import type { OwnerSettings, WetSeason } from '../work/settings.js';

/** What one visit found and did on one line. A skipped visit is no visit. */
export interface LineVisit {
  day: number;
  /** Before the clean, or without one; null when nothing was measured. Doubted: taken for a slip, confirmed by nobody. */
  found: { method: Method; occlusion: number; standardError: number; doubted: boolean } | null;
  /** Found plugged, by deposit or for a cause unknown. */
  plugged: boolean;
  cleaned: boolean;
  /** Occlusion left after the clean; null when not measured. */
  residue: number | null;
}

/** As much of a line's past, in its present epoch, as the rules on intervals need. */
export interface LineHistory {
  /** Start of the running cycle: the last clean, else the day a clean epoch began; null when never known clean. */
  cleanSinceDay: number | null;
  /**
   * Found and left at the last clean; null when there is none on record. What was found stands until the next clean,
   * also where the crew came back another day to do it.
   */
  lastClean: {
    day: number;
    occlusionBefore: number | null;
    beforeIsDoubted: boolean;
    plugged: boolean;
    residue: number | null;
  } | null;
  /** Day the line was found plugged and since when nobody opened it; null when it runs. */
  pluggedSinceDay: number | null;
  /** The last reading since the clean, past the action limit and taken for a slip; null when there is none. */
  doubtedHigh: { day: number; occlusion: number } | null;
  /** A reading was taken after the day of the last clean. */
  lookedAtSinceClean: boolean;
  /** Cleans since the line was last opened after a plug, that one not counted; null when it never plugged. */
  cleansSinceReopened: number | null;
  /** Days of the longest interval since the last plug that ended in a reading found good, outlet looks not counted. */
  longestGoodDays: number;
  /** Under observation, to its last reading that counts, through one whole wet season. */
  wetSeasonSeen: boolean;
  /** Comes so clean each time that the owner may be told the interval is needlessly short. */
  needlesslyShort: boolean;
}

/**
 * Reads the rules' facts out of a line's visits.
 *
 * A doubted reading proves no interval good, and nothing sound either: what it says of a high level asks for a look.
 * A reading is found good when it lies under the action limit by more than its own standard error.
 *
 * @param visits       In order of their day, of the present epoch.
 * @param cleanFromDay Day on which the epoch began clean (new pipe); null when its start is unknown.
 */
export function lineHistory(
  visits: readonly LineVisit[],
  cleanFromDay: number | null,
  actionLimit: number,
  settings: Pick<OwnerSettings, 'growth' | 'wetSeason'>,
): LineHistory {
  let cleanSinceDay = cleanFromDay;
  let lastClean: LineHistory['lastClean'] = null;
  let lookedAtSinceClean = false;
  let pluggedSinceDay: number | null = null;
  let doubtedHigh: LineHistory['doubtedHigh'] = null;
  let lastFound: LineVisit['found'] = null;
  let cleansSinceReopened: number | null = null;
  let longestGoodDays = 0;
  let lastProperDay: number | null = null;
  for (const visit of visits) {
    const { found } = visit;
    const proper = found !== null && !found.doubted && found.method !== 'outlet_look' && !visit.plugged;
    if (found !== null) {
      lastFound = worseOf(found, lastFound);
      const isHigh = found.doubted && found.occlusion > actionLimit;
      doubtedHigh = isHigh
        ? { day: visit.day, occlusion: found.occlusion }
        : found.doubted
          ? doubtedHigh
          : null;
    }
    if (visit.plugged) pluggedSinceDay ??= visit.day;
    if (found !== null || visit.plugged) lookedAtSinceClean = true;
    if (proper) lastProperDay = visit.day;
    if (visit.plugged) longestGoodDays = 0;
    else if (proper && cleanSinceDay !== null && isGood(visit, actionLimit)) {
      longestGoodDays = Math.max(longestGoodDays, visit.day - cleanSinceDay);
    }
    if (!visit.cleaned) continue;
    const wasPlugged = pluggedSinceDay !== null;
    if (wasPlugged) cleansSinceReopened = 0;
    else if (cleansSinceReopened !== null) cleansSinceReopened++;
    cleanSinceDay = visit.day;
    lookedAtSinceClean = false;
    lastClean = {
      day: visit.day,
      occlusionBefore: lastFound?.occlusion ?? null,
      beforeIsDoubted: lastFound?.doubted ?? false,
      plugged: wasPlugged,
      residue: visit.residue,
    };
    [pluggedSinceDay, doubtedHigh, lastFound] = [null, null, null];
  }
  const firstDay = cleanFromDay ?? visits[0]?.day ?? null;
  const wetSeasonSeen =
    firstDay !== null &&
    lastProperDay !== null &&
    holdsWetSeason(firstDay, lastProperDay, settings.wetSeason);
  return {
    cleanSinceDay,
    lastClean,
    lookedAtSinceClean,
    pluggedSinceDay,
    doubtedHigh,
    cleansSinceReopened,
    longestGoodDays,
    wetSeasonSeen,
    needlesslyShort: wetSeasonSeen && lastReadingsAgree(visits, actionLimit, settings),
  };
}

/** The later finding counts; where it is in doubt, what is worse. */
function worseOf(found: NonNullable<LineVisit['found']>, before: LineVisit['found']): LineVisit['found'] {
  return found.doubted && before !== null && before.occlusion > found.occlusion ? before : found;
}

function isGood(visit: LineVisit, actionLimit: number): boolean {
  return visit.found !== null && visit.found.occlusion + visit.found.standardError < actionLimit;
}

/** Whether a whole wet season lies within the days. */
export function holdsWetSeason(firstDay: number, lastDay: number, season: WetSeason): boolean {
  const firstYear = Number(isoDate(firstDay).slice(0, 4));
  const lastYear = Number(isoDate(lastDay).slice(0, 4));
  for (let year = firstYear; year <= lastYear; year++) {
    const from = dayNumber(`${year}-${season.from}`);
    const to = dayNumber(`${season.to < season.from ? year + 1 : year}-${season.to}`);
    if (from >= firstDay && to <= lastDay) return true;
  }
  return false;
}

/** The last readings by camera or draw-down all lie low and within two of their standard errors of each other. */
function lastReadingsAgree(
  visits: readonly LineVisit[],
  actionLimit: number,
  { growth }: Pick<OwnerSettings, 'growth'>,
): boolean {
  const sharp = visits.filter(
    ({ found, plugged }) =>
      plugged ||
      (found !== null && !found.doubted && (found.method === 'camera' || found.method === 'pit_drawdown')),
  );
  const last = sharp.slice(-growth.readingsForNeedlesslyShort);
  if (last.length < growth.readingsForNeedlesslyShort || last.some((visit) => visit.plugged)) return false;
  const readings = last.flatMap(({ found }) => (found === null ? [] : [found]));
  const low = Math.min(...readings.map((found) => found.occlusion));
  const high = Math.max(...readings.map((found) => found.occlusion));
  const error = Math.max(...readings.map((found) => found.standardError));
  return (
    high < growth.needlesslyShortBelowShareOfAction * actionLimit && high - low <= 2 * Math.SQRT2 * error
  );
}
