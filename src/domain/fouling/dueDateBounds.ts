import { isoDate } from '../calendar/isoDate.js';
import { cycleStartDay, type DueCandidate, type DueCase } from './dueDateInput.js';
import { dayReason, daysInWords, percent } from './dueDateReason.js';

/** The days no due date may lie after, whatever the forecast says. */
export function dueBounds(input: DueCase): DueCandidate[] {
  const bounds = [afterPlug(input), recheck(input), firstOrGrown(input), longest(input)];
  return bounds.filter((bound) => bound !== null);
}

/** Reopened after a plug: 30, then 60, then 90 days. */
function afterPlug({ history, settings }: DueCase): DueCandidate | null {
  const { cleansSinceReopened, cleanSinceDay } = history;
  if (cleansSinceReopened === null || cleanSinceDay === null) return null;
  const days = settings.firstIntervals.afterPlugDays[cleansSinceReopened];
  if (days === undefined) return null;
  const text = `Opened after a plug, interval ${cleansSinceReopened + 1} since: within ${daysInWords(days)}`;
  return counted('after_plug', cleanSinceDay, days, text);
}

/** Cleaned from over half, much left, or much found that does not fit the line: somebody looks again soon, once. */
function recheck({ history, settings }: DueCase): DueCandidate | null {
  const { recheckDays, recheckOverBefore, recheckOverResidue } = settings.firstIntervals;
  const { lastClean, doubtedHigh } = history;
  if (doubtedHigh !== null) {
    const text = `${percent(doubtedHigh.occlusion)} blocked was found and does not fit the line; while nobody confirms or dismisses it: look again within ${daysInWords(recheckDays)}`;
    return counted('recheck', doubtedHigh.day, recheckDays, text);
  }
  if (lastClean === null || lastClean.plugged || history.lookedAtSinceClean) return null;
  const before = lastClean.occlusionBefore ?? 0;
  const residue = lastClean.residue ?? 0;
  if (before <= recheckOverBefore && residue <= recheckOverResidue) return null;
  const what =
    residue > recheckOverResidue
      ? `${percent(residue)} left after the last clean`
      : `Last cleaned from ${percent(before)} blocked${lastClean.beforeIsDoubted ? ', which is in doubt' : ''}`;
  return counted(
    'recheck',
    lastClean.day,
    recheckDays,
    `${what}: look again within ${daysInWords(recheckDays)}`,
  );
}

/**
 * A line new to the service takes the first interval of its soil; from then on an interval grows at most
 * 1.5-fold over the longest that ended in a reading found good, and not at all before one wet season was seen.
 */
function firstOrGrown(input: DueCase): DueCandidate {
  const { history, settings } = input;
  const { factor } = settings.growth;
  const startDay = cycleStartDay(input);
  const first = firstInterval(input);
  const grown = Math.floor(history.longestGoodDays * (history.wetSeasonSeen ? factor : 1));
  if (grown <= first.days) return counted('first_interval', startDay, first.days, first.text);
  const good = `The longest interval that ended well was ${daysInWords(history.longestGoodDays)}`;
  const how = history.wetSeasonSeen
    ? `the next is at most ${factor} times that`
    : 'no longer one before a wet season was seen';
  return counted('growth', startDay, grown, `${good}; ${how}`);
}

/** Days and words of the first interval by what is known of ochre. */
function firstInterval({ ochre, settings }: DueCase): { days: number; text: string } {
  const { knownOchreDays, soilUnknownDays, noOchreSeenDays } = settings.firstIntervals;
  switch (ochre) {
    case 'known':
      return {
        days: knownOchreDays,
        text: `Ochre known, no longer interval proven: within ${daysInWords(knownOchreDays)}`,
      };
    case 'unknown':
      return {
        days: soilUnknownDays,
        text: `Soil unknown, no longer interval proven: within ${daysInWords(soilUnknownDays)}`,
      };
    case 'none_seen':
      return { days: noOchreSeenDays, text: `No ochre seen: within ${daysInWords(noOchreSeenDays)}` };
    default:
      return ochre satisfies never;
  }
}

function longest(input: DueCase): DueCandidate {
  const days = input.settings.intervals.maxDays;
  return counted(
    'max_interval',
    cycleStartDay(input),
    days,
    `No line waits longer than ${daysInWords(days)}`,
  );
}

/** Where the soil is unknown, somebody looks half-way; null when that was done or the visit comes first. */
export function lookDay(input: DueCase, dueDay: number): number | null {
  const { history, ochre, settings } = input;
  if (ochre !== 'unknown' || history.lookedAtSinceClean || history.longestGoodDays > 0) return null;
  const day = cycleStartDay(input) + settings.firstIntervals.soilUnknownLookDays;
  return day < dueDay ? Math.max(day, input.forecast.asOfDay) : null;
}

function counted(
  rule: 'after_plug' | 'recheck' | 'first_interval' | 'growth' | 'max_interval',
  sinceDay: number,
  days: number,
  text: string,
): DueCandidate {
  const day = sinceDay + days;
  return { rule, day, reason: dayReason(rule, text, { days, since: isoDate(sinceDay) }, day) };
}
