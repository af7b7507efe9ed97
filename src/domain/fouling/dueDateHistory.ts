import { dayNumber, isoDate } from '../calendar/isoDate.js';
import type { Bound, Method, PlugCause, RegimeCause } from '../words.js';
import type { OwnerSettings, WetSeason } from '../work/settings.js';

/** What one reading says of a line as it was found. */
export interface Found {
  id: string;
  method: Method;
  occlusion: number;
  standardError: number;
  bound: Bound;
  /** Certain: confirmed by a person, or borne out by another look. */
  sureBy: 'person' | 'second_look' | null;
  /** Taken for a slip, confirmed by nobody. */
  doubted: boolean;
  /** Doubted, and more than the line would hold by all else that is known. */
  high: boolean;
}

/** A reading in doubt; `left`: it was taken after a clean. */
export interface DoubtedReading extends Found {
  day: number;
  left: boolean;
}

/** A find of a plug that deposit is unlikely to have made. */
export interface DoubtedPlug {
  id: string;
  day: number;
}

/** What one visit found and did on one line. A skipped visit is no visit. */
export interface LineVisit {
  day: number;
  /** Before the clean, or without one; null when nothing was measured. */
  found: Found | null;
  /** Found plugged, by deposit or for a cause unknown. */
  plugged: boolean;
  /** The find of a plug that is in doubt; null when none is. */
  doubtedPlug: string | null;
  /** Found stopped by something else than deposit; null when it was not. */
  stoppedBy: PlugCause | null;
  cleaned: boolean;
  /** Cause of a change of regime told of for that day: what came before proves no interval any more. Null: none. */
  changed: RegimeCause | null;
  /** Occlusion left after the clean; null when not measured. */
  residue: number | null;
  /** All readings of the visit that are in doubt. */
  doubted: DoubtedReading[];
}

/** An interval that ended at or past the action limit. */
export interface PassedLimit {
  foundDay: number;
  /** Of the bore; null: plugged. */
  occlusion: number | null;
  sureBy: Found['sureBy'];
  intervalDays: number;
  /** What the interval began with. */
  from: 'clean' | 'laid';
  /** Days within which, by straight growth, it reached the limit. */
  days: number;
}

/** As much of a line's past, in its present epoch, as the rules on intervals need. */
export interface LineHistory {
  /** Start of the running cycle: the last clean, else the day a clean epoch began; null when never known clean. */
  cleanSinceDay: number | null;
  /**
   * Of a line never known clean: the last day it was looked at and found good, else the first proper look; null
   * when there is none.
   */
  seenSinceDay: number | null;
  /**
   * Found and left at the last clean; null when there is none on record. What was found stands until the next clean,
   * also where the crew came back another day to do it.
   */
  lastClean: {
    day: number;
    occlusionBefore: number | null;
    beforeIsDoubted: boolean;
    /** In doubt, and more than the line would hold. */
    beforeIsHigh: boolean;
    plugged: boolean;
    residue: number | null;
  } | null;
  /** Day the line was found plugged and since when nobody opened it; null when it runs. */
  pluggedSinceDay: number | null;
  /** Day and cause of a stop by something else than deposit, since which nobody opened the line or read it; null when it runs. */
  stopped: { day: number; cause: PlugCause } | null;
  /** Plugs in doubt, of the running cycle and of the one before it. */
  doubtedPlugs: readonly DoubtedPlug[];
  /** Since the clean and since any sound reading: the first day on which more was found than fits the line, and the most; null when there is none. */
  doubtedHigh: { day: number; occlusion: number } | null;
  /** The worst certain find since the clean, under the limit or past it; null when there is none. */
  certainFind: (Found & { day: number }) | null;
  /** Intervals that ended at or past the action limit, those undone by as long an interval that ended well left out. */
  passedLimit: readonly PassedLimit[];
  /** Readings in doubt, of the running cycle and of the one before it. */
  doubtedReadings: readonly DoubtedReading[];
  /** A reading was taken after the day of the last clean. */
  lookedAtSinceClean: boolean;
  /** The last change of regime told of in the running cycle; null when there is none. */
  toldChange: { day: number; cause: RegimeCause } | null;
  /** How far into the running cycle what is proven of intervals reached on the day a change was told of; null without one. */
  provenToDay: number | null;
  /** Last day of a find that is not in doubt; null when there is none. */
  lookedOnDay: number | null;
  /** Cleans since the line was last opened after a plug, that one not counted; null when it never plugged. */
  cleansSinceReopened: number | null;
  /**
   * Days of the longest interval since the last plug that ended in a reading found good, outlet looks not counted; the
   * span since a line was laid is told apart.
   */
  longestGoodDays: number;
  /**
   * The longest span from the day the line was laid, or from a told change since, with no clean in it, to a reading found
   * good, and the day of that; null when there is none since the last plug.
   */
  laidGood: { days: number; foundDay: number; from: 'laid' | 'change' } | null;
  /** Under observation, to its last reading that counts, through one whole wet season. */
  wetSeasonSeen: boolean;
  /** Comes so clean each time that the owner may be told the interval is needlessly short. */
  needlesslyShort: boolean;
}

/**
 * Reads the rules' facts out of a line's visits.
 *
 * A doubted reading proves no interval good, and nothing sound either: what it says of a high level asks for a look.
 * A reading is found good when it lies under the action limit by more than its own standard error. A line never known
 * clean is counted from its first proper look, and anew from each look that found it good. After a told change of regime
 * what intervals prove, the wet season and what is needlessly short count anew, from that day; the running cycle goes on, and
 * what a plug asks for stays.
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
  let seenSinceDay: number | null = null;
  let lastClean: LineHistory['lastClean'] = null;
  let lookedAtSinceClean = false;
  let cleansSinceReopened: number | null = null;
  let longestGoodDays = 0;
  let laidGood: LineHistory['laidGood'] = null;
  let lastProperDay: number | null = null;
  let passedLimit: PassedLimit[] = [];
  let doubtedBefore: DoubtedReading[] = [];
  let plugsBefore: DoubtedPlug[] = [];
  let cycle = newCycle();
  let observedFromDay = cleanFromDay ?? visits[0]?.day ?? null;
  let toldChange: LineHistory['toldChange'] = null;
  let provenToDay: number | null = null;
  let changedDay = -Infinity;
  let lookedOnDay: number | null = null;
  for (const visit of visits) {
    const { found } = visit;
    const proper = found !== null && !found.doubted && found.method !== 'outlet_look' && !visit.plugged;
    if (visit.changed !== null) {
      const startDay = cleanSinceDay ?? seenSinceDay ?? -Infinity;
      const provenTo = Math.max(
        startDay + longestGoodDays,
        laidGood?.foundDay ?? startDay,
        provenToDay ?? startDay,
      );
      provenToDay = Math.min(visit.day, provenTo);
      toldChange = { day: visit.day, cause: visit.changed };
      changedDay = visit.day;
      // What went too long before goes too long again, until another interval has proven otherwise or the pipe is another.
      if (visit.changed === 'partial_replacement') passedLimit = [];
      [longestGoodDays, observedFromDay, lastProperDay] = [0, visit.day, null];
      laidGood = null;
    }
    takeIn(cycle, visit);
    if (found !== null || visit.plugged) lookedAtSinceClean = true;
    if (found !== null && !found.doubted) lookedOnDay = visit.day;
    const sinceDay = cleanSinceDay ?? seenSinceDay;
    if (visit.plugged) [longestGoodDays, laidGood] = [0, null];
    else if (proper) {
      lastProperDay = visit.day;
      const good = isGood(found, actionLimit);
      if (good && sinceDay !== null) {
        const days = visit.day - Math.max(sinceDay, changedDay);
        const from = changedDay > sinceDay ? 'change' : 'laid';
        if (cleanSinceDay !== null && lastClean === null) laidGood = { days, foundDay: visit.day, from };
        else longestGoodDays = Math.max(longestGoodDays, days);
        passedLimit = passedLimit.filter((passed) => passed.days > days);
      }
      if (good || seenSinceDay === null) seenSinceDay = visit.day;
    }
    if (!visit.cleaned) continue;
    const wasPlugged = cycle.pluggedSinceDay !== null;
    if (wasPlugged) cleansSinceReopened = 0;
    else if (cleansSinceReopened !== null) cleansSinceReopened++;
    const passed = cleanSinceDay === null ? null : passedIn(cycle, cleanSinceDay, actionLimit);
    if (passed && passed.intervalDays > 0)
      passedLimit.push({ ...passed, from: lastClean === null ? 'laid' : 'clean' });
    const { lastFound } = cycle;
    lastClean = {
      day: visit.day,
      occlusionBefore: lastFound?.occlusion ?? null,
      beforeIsDoubted: lastFound?.doubted ?? false,
      beforeIsHigh: lastFound?.high ?? false,
      plugged: wasPlugged,
      residue: visit.residue,
    };
    cleanSinceDay = visit.day;
    lookedAtSinceClean = false;
    provenToDay = null;
    doubtedBefore = cycle.doubted;
    plugsBefore = cycle.doubtedPlugs;
    cycle = newCycle();
  }
  const wetSeasonSeen =
    observedFromDay !== null &&
    lastProperDay !== null &&
    holdsWetSeason(observedFromDay, lastProperDay, settings.wetSeason);
  return {
    cleanSinceDay,
    seenSinceDay: cleanSinceDay === null ? seenSinceDay : null,
    lastClean,
    lookedAtSinceClean,
    pluggedSinceDay: cycle.pluggedSinceDay,
    stopped: cycle.stopped,
    doubtedPlugs: [...plugsBefore, ...cycle.doubtedPlugs],
    doubtedHigh: cycle.doubtedHigh,
    certainFind: cycle.certainFind,
    passedLimit,
    doubtedReadings: [...doubtedBefore, ...cycle.doubted],
    toldChange: toldChange !== null && toldChange.day >= (cleanSinceDay ?? -Infinity) ? toldChange : null,
    provenToDay,
    lookedOnDay,
    cleansSinceReopened,
    longestGoodDays,
    laidGood,
    wetSeasonSeen,
    needlesslyShort: wetSeasonSeen && lastReadingsAgree(visits, actionLimit, settings),
  };
}

/** Day a line was found plugged by deposit or for a cause unknown, and since when nobody opened it; null when it runs. */
export function pluggedSince(visits: readonly LineVisit[]): number | null {
  const lastClean = visits.findLastIndex(({ cleaned }) => cleaned);
  return visits.slice(lastClean + 1).find(({ plugged }) => plugged)?.day ?? null;
}

/** What was found from one clean to the next. */
interface Cycle {
  pluggedSinceDay: number | null;
  lastFound: Found | null;
  lastFoundDay: number;
  certainFind: (Found & { day: number }) | null;
  doubtedHigh: LineHistory['doubtedHigh'];
  doubted: DoubtedReading[];
  doubtedPlugs: DoubtedPlug[];
  stopped: LineHistory['stopped'];
}

const newCycle = (): Cycle => ({
  pluggedSinceDay: null,
  lastFound: null,
  lastFoundDay: 0,
  certainFind: null,
  doubtedHigh: null,
  doubted: [],
  doubtedPlugs: [],
  stopped: null,
});

function takeIn(cycle: Cycle, visit: LineVisit): void {
  if (visit.plugged) cycle.pluggedSinceDay ??= visit.day;
  cycle.doubted.push(...visit.doubted);
  const { found, day, stoppedBy, doubtedPlug } = visit;
  if (doubtedPlug !== null) cycle.doubtedPlugs.push({ id: doubtedPlug, day });
  if (stoppedBy !== null) cycle.stopped ??= { day, cause: stoppedBy };
  else if (found !== null) cycle.stopped = null;
  if (found === null) return;
  if (!isLess(found, cycle.lastFound)) {
    cycle.lastFound = found;
    cycle.lastFoundDay = day;
  }
  if (!found.doubted) cycle.doubtedHigh = null;
  else if (found.high) {
    const before = cycle.doubtedHigh ?? { day, occlusion: 0 };
    cycle.doubtedHigh = { day: before.day, occlusion: Math.max(before.occlusion, found.occlusion) };
  }
  const worst = cycle.certainFind?.occlusion ?? -1;
  if (found.sureBy !== null && found.bound !== 'at_most' && found.occlusion > worst)
    cycle.certainFind = { ...found, day };
}

/** The interval that a clean ends, where it ended at or past the limit; in doubt it tells nothing. */
function passedIn(cycle: Cycle, sinceDay: number, actionLimit: number): Omit<PassedLimit, 'from'> | null {
  const { pluggedSinceDay, certainFind, lastFound, lastFoundDay } = cycle;
  if (pluggedSinceDay !== null) return passedBy(null, pluggedSinceDay, sinceDay, actionLimit, null);
  const isCertain = certainFind !== null && reaches(certainFind, actionLimit);
  const found = isCertain ? certainFind : lastFound;
  if (found === null || found.doubted || !reaches(found, actionLimit)) return null;
  const foundDay = isCertain ? certainFind.day : lastFoundDay;
  return passedBy(found.occlusion, foundDay, sinceDay, actionLimit, found.sureBy);
}

function passedBy(
  occlusion: number | null,
  foundDay: number,
  sinceDay: number,
  actionLimit: number,
  sureBy: Found['sureBy'],
): Omit<PassedLimit, 'from'> {
  const intervalDays = foundDay - sinceDay;
  const days = Math.floor((intervalDays * actionLimit) / (occlusion ?? 1));
  return { foundDay, occlusion, sureBy, intervalDays, days };
}

const reaches = (found: Found, limit: number): boolean =>
  found.bound !== 'at_most' && found.occlusion >= limit;

/** The later finding counts; where it is in doubt, what is worse. */
const isLess = (found: Found, before: Found | null): boolean =>
  found.doubted && before !== null && before.occlusion > found.occlusion;

function isGood({ occlusion, standardError, bound }: Found, actionLimit: number): boolean {
  return bound !== 'at_least' && occlusion + standardError < actionLimit;
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
  const since = visits.slice(
    Math.max(
      0,
      visits.findLastIndex(({ changed }) => changed !== null),
    ),
  );
  const sharp = since.filter(
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
