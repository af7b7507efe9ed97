import { isoDate } from '../calendar/isoDate.js';
import { MONTHS } from '../calendar/saidDay.js';
import { cycleStartDay, type DueCandidate, type DueCase } from './dueDateInput.js';
import {
  dayReason,
  daysInWords,
  noFlowSince,
  noFlowText,
  percent,
  type Reason,
  SURE_BY,
} from './dueDateReason.js';

/** The days no due date may lie after, whatever the forecast says. */
export function dueBounds(input: DueCase): DueCandidate[] {
  const bounds = [
    afterPlug(input),
    recheck(input),
    noFlow(input),
    lowerFind(input),
    limitPassed(input),
    firstOrGrown(input),
    longest(input),
  ];
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

/** In doubt, less than this share of the action limit calls nobody to look again (common practice, no source). */
const DOUBT_MATTERS_FROM = 0.5;

/** Cleaned from over half, much left, or much found that does not fit the line: somebody looks again soon, once. */
function recheck({ history, limits, settings }: DueCase): DueCandidate | null {
  const { recheckDays, recheckOverBefore, recheckOverResidue } = settings.firstIntervals;
  const { lastClean, doubtedHigh } = history;
  const muchInDoubt = DOUBT_MATTERS_FROM * limits.action;
  if (doubtedHigh !== null && doubtedHigh.occlusion >= muchInDoubt) {
    const text = `${percent(doubtedHigh.occlusion)} blocked was found and does not fit the line; while nobody confirms or dismisses it: look again within ${daysInWords(recheckDays)}`;
    return counted('recheck', doubtedHigh.day, recheckDays, text);
  }
  if (lastClean === null || lastClean.plugged || history.lookedAtSinceClean) return null;
  const before = lastClean.occlusionBefore ?? 0;
  const residue = lastClean.residue ?? 0;
  const isMuch = before > (lastClean.beforeIsHigh ? muchInDoubt : recheckOverBefore);
  if (!isMuch && residue <= recheckOverResidue) return null;
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

/** A clean after which nobody saw water run is as good as none: somebody looks again soon, once. */
function noFlow(input: DueCase): DueCandidate | null {
  const day = noFlowSince(input);
  const { recheckDays } = input.settings.firstIntervals;
  if (day === null || (input.history.lookedOnDay ?? -Infinity) > day) return null;
  return counted(
    'recheck',
    day,
    recheckDays,
    `${noFlowText(day)}; look again within ${daysInWords(recheckDays)}`,
    { noFlowOn: isoDate(day) },
  );
}

/** A find half believed must not bring a later day than a lower find would: more is never later. */
function lowerFind({ lowerFind: lower }: DueCase): DueCandidate | null {
  if (!lower) return null;
  const text = `What was found does not fit the line and is only half believed; had it been ${percent(lower.occlusion)} blocked, it would be due by then, and more is never later`;
  const reason = () => dayReason('recheck', text, { occlusion: lower.occlusion }, lower.dueDay);
  return { rule: 'recheck', day: lower.dueDay, reason };
}

/**
 * A line that was at or past its action limit when the crew came is visited within the time in which, by straight
 * growth from clean to find, it got there: the shortest of its intervals that ended so. An interval as long that ends
 * in a good find lifts it.
 */
function limitPassed({ history, limits, settings }: DueCase): DueCandidate | null {
  const { passedLimit, cleanSinceDay } = history;
  const [first, ...others] = passedLimit;
  if (first === undefined || cleanSinceDay === null) return null;
  const worst = others.reduce((most, each) => (each.days <= most.days ? each : most), first);
  const foundOn = isoDate(worst.foundDay);
  const found = worst.occlusion === null ? 'plugged' : `${percent(worst.occlusion)} blocked`;
  const sure = worst.sureBy === null ? '' : `, ${SURE_BY[worst.sureBy]}`;
  const days = Math.max(settings.intervals.minDays, worst.days);
  const after = worst.from === 'laid' ? 'it was laid' : 'a clean';
  const text =
    `Found ${found} on ${foundOn}${sure}, ${daysInWords(worst.intervalDays)} after ${after}: it was past ` +
    `${percent(limits.action)} after ${daysInWords(worst.days)} by straight growth, and no interval as long has ended well since`;
  return counted('limit_passed', cleanSinceDay, days, text);
}

/**
 * A line new to the service takes the first interval of its soil; from then on an interval grows at most
 * 1.5-fold over the longest that ended in a reading found good, and not at all before one wet season was seen. What
 * served intervals allow and what the span since it was laid does are two proofs: the later day counts.
 */
function firstOrGrown(input: DueCase): DueCandidate {
  const startDay = cycleStartDay(input);
  const { history } = input;
  const first = firstInterval(input);
  const grown = [grownOver(input, history.longestGoodDays), overUntouched(input, first.days)].reduce(
    (a, b) => (endOf(b) > endOf(a) ? b : a),
  );
  const firstDays = Math.max(first.days, (history.provenToDay ?? startDay) - startDay);
  if (endOf(grown) <= startDay + firstDays)
    return counted(
      'first_interval',
      startDay,
      firstDays,
      firstDays > first.days ? lapsedText(history) : first.text,
    );
  return counted('growth', grown.sinceDay, grown.days, grown.text());
}

/** What was proven before a told change serves until that day, no longer. */
const lapsedText = ({ toldChange }: DueCase['history']): string =>
  `The intervals that ended well came before the change told of on ${isoDate(toldChange?.day ?? 0)} and prove none since`;

/** How long the running interval may take, and why. */
interface Grown {
  sinceDay: number;
  days: number;
  text: () => string;
}

const endOf = ({ sinceDay, days }: Grown): number => sinceDay + days;

/** One step of growth over an interval that ended well. */
function grownOver(input: DueCase, provenDays: number): Grown {
  const { history, settings } = input;
  const sinceDay = cycleStartDay(input);
  const days = grownDays(input, provenDays);
  const text = () => {
    const good = `The longest interval that ended well was ${daysInWords(provenDays)}`;
    const how = history.wetSeasonSeen
      ? `the running one, from ${isoDate(sinceDay)}, may take at most ${settings.growth.factor} times that, ${daysInWords(days)}`
      : `the running one, from ${isoDate(sinceDay)}, may take no longer until readings span a whole wet season (${wetSeasonInWords(settings)})`;
    return `${good}; ${how}`;
  };
  return { sinceDay, days, text };
}

const grownDays = ({ history, settings }: DueCase, provenDays: number): number =>
  Math.floor(provenDays * (history.wetSeasonSeen ? settings.growth.factor : 1));

/**
 * A line found good long after it was laid, and never cleaned till then: the span shows that it is slow, but the
 * visits it went without are no evidence. The first interval from then on takes one step of growth over the first one of
 * its soil, no more (common practice, no source).
 */
function overUntouched(input: DueCase, firstDays: number): Grown {
  const { history } = input;
  const { laidGood, lastClean } = history;
  const whole = grownOver(input, laidGood?.days ?? 0);
  if (laidGood === null || laidGood.days <= firstDays) return whole;
  const sinceDay = lastClean === null ? laidGood.foundDay : whole.sinceDay;
  const days = grownDays(input, firstDays);
  const how = history.wetSeasonSeen
    ? `${input.settings.growth.factor} times the first interval of its soil, `
    : '';
  const after = laidGood.from === 'laid' ? 'it was laid' : 'a change was told of,';
  const text = () =>
    `Found good on ${isoDate(laidGood.foundDay)}, ${daysInWords(laidGood.days)} after ${after} and never cleaned till then; the interval from ${isoDate(sinceDay)} may take at most ${how}${daysInWords(days)}`;
  return endOf(whole) <= sinceDay + days ? whole : { sinceDay, days, text };
}

function wetSeasonInWords({ wetSeason: { from, to } }: DueCase['settings']): string {
  const inWords = (monthDay: string): string =>
    `${Number(monthDay.slice(3))} ${MONTHS[Number(monthDay.slice(0, 2)) - 1]}`;
  return `${inWords(from)} to ${inWords(to)}`;
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
  const isProven = history.longestGoodDays > 0 || history.laidGood !== null;
  if (ochre !== 'unknown' || history.lookedAtSinceClean || isProven) return null;
  const day = cycleStartDay(input) + settings.firstIntervals.soilUnknownLookDays;
  return day < dueDay ? Math.max(day, input.forecast.asOfDay) : null;
}

function counted(
  rule: 'after_plug' | 'recheck' | 'limit_passed' | 'first_interval' | 'growth' | 'max_interval',
  sinceDay: number,
  days: number,
  text: string,
  more: Reason['facts'] = {},
): DueCandidate {
  const day = sinceDay + days;
  const facts = { days, since: isoDate(sinceDay), ...more };
  return { rule, day, reason: () => dayReason(rule, text, facts, day) };
}
