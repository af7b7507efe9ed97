import { isoDate } from '../calendar/isoDate.js';
import { costGrid } from './costCycle.js';
import { costLeastDays, costLeastInterval } from './costLeast.js';
import { type CareTerms, cycleStartDay, type DueCandidate, type DueCase } from './dueDateInput.js';
import { dayReason, daysInWords, percent, type Reason, riskReason, SURE_BY } from './dueDateReason.js';
import { yearlyRiskDays } from './passage.js';
import { lineCosts, softDaysOf } from './policy.js';

/** The days that ask for a visit; the earliest wins. */
export function dueCandidates(input: DueCase): DueCandidate[] {
  const asked = [
    certainlyFound(input),
    overLimit(input),
    riskSpent(input),
    costLeast(input),
    hardening(input),
    careTermsDue(input),
  ];
  return asked.filter((candidate) => candidate !== null);
}

/**
 * A certain find that is not good, and no clean since: past the action limit it is due at once, below it on the day
 * straight growth since the clean takes it there, whatever the forecast makes of it.
 */
function certainlyFound({ history, limits }: DueCase): DueCandidate | null {
  const { certainFind, cleanSinceDay } = history;
  if (certainFind === null || certainFind.sureBy === null) return null;
  const { day: foundDay, occlusion, standardError, sureBy } = certainFind;
  const foundOn = isoDate(foundDay);
  const what = `${percent(occlusion)} blocked was found on ${foundOn}, ${SURE_BY[sureBy]}, and no clean since is on record`;
  const facts = { occlusion, foundOn, sureBy, actionLimit: limits.action };
  if (occlusion >= limits.action) {
    const reason = () => dayReason('over_limit', `${what}: due at once`, facts, foundDay);
    return { rule: 'over_limit', day: foundDay, reason };
  }
  if (cleanSinceDay === null || occlusion + standardError < limits.action) return null;
  const day = cleanSinceDay + Math.floor(((foundDay - cleanSinceDay) * limits.action) / occlusion);
  const since = history.lastClean === null ? 'it was laid' : 'the clean';
  const text = `${what}; growing on as it did since ${since} it passes ${percent(limits.action)} by then`;
  return { rule: 'over_limit', day, reason: () => dayReason('over_limit', text, facts, day) };
}

/**
 * The day from which the line is thought to be past its action limit; overdue lines are due now, and so is one found
 * plugged and not opened since, whatever the forecast believes. Named ahead, so that
 * the day stands still and no line jumps to the front on the night its chance gets there.
 */
function overLimit({ forecast, action, limits, history, settings }: DueCase): DueCandidate | null {
  const { overLimitChance } = settings.intervals;
  const { pluggedSinceDay } = history;
  if (pluggedSinceDay !== null) {
    const text = 'Found plugged, and no clean since is on record: due at once';
    const facts = { pluggedSince: isoDate(pluggedSinceDay), actionLimit: limits.action };
    const reason = () => dayReason('over_limit', text, facts, pluggedSinceDay);
    return { rule: 'over_limit', day: pluggedSinceDay, reason };
  }
  const chance = action.chanceBy(0);
  const isOver = chance >= overLimitChance;
  const days = isOver ? 0 : action.quantile(overLimitChance);
  if (days === null) return null;
  const day = forecast.asOfDay + Math.floor(days);
  const reason = (): Reason => {
    const over = `more than ${percent(limits.action)} blocked`;
    const text = isOver
      ? `Thought to be past its action limit already (${percent(chance)} chance of ${over}), due now`
      : `${percent(overLimitChance)} chance of ${over} by then, past its action limit`;
    const facts = { chance: isOver ? chance : overLimitChance, actionLimit: limits.action };
    return dayReason('over_limit', text, facts, day);
  };
  return { rule: 'over_limit', day, reason };
}

function riskSpent(input: DueCase): DueCandidate {
  const { forecast, plug, consequence, settings } = input;
  const { minDays } = settings.intervals;
  const yearlyRisk = settings.yearlyPlugRisk[consequence.basement];
  const startDay = cycleStartDay(input);
  const days = yearlyRiskDays(plug, yearlyRisk, forecast.asOfDay - startDay, minDays);
  const day = days === null ? null : notTooSoon(forecast.asOfDay + days, input);
  const reason = (): Reason => {
    const spentOn = day === null ? null : isoDate(day);
    return riskReason({ plugWithinYear: plug.chanceBy(365), yearlyRisk, spentOn }, consequence);
  };
  return { rule: 'risk', day, reason };
}

/** The cheapest day, seen over all rates the line may have. */
function costLeast(input: DueCase): DueCandidate {
  const { forecast, limits, settings } = input;
  const costs = lineCosts(settings, softDaysOf(input.ochre, input.staysWet, settings));
  const costLimits = { eventLimit: limits.plug, dearLimit: limits.action };
  const grid = costGrid(settings.intervals.maxDays);
  const ageDays = Math.max(0, forecast.asOfDay - cycleStartDay(input));
  const interval = costLeastInterval(forecast.components, costLimits, costs, grid);
  const days = costLeastDays(forecast.components, interval, costLimits, costs, ageDays, grid);
  const day = days === null ? null : notTooSoon(forecast.asOfDay + Math.floor(days), input);
  const reason = (): Reason => {
    const costPerYear = 365.25 * interval.costPerDay;
    const facts = { costPerYear, plugVisits: costs.event, on: day === null ? null : isoDate(day) };
    const text =
      `Cheapest over the rates this line may have: about ${costPerYear.toFixed(1)} visits' worth a year, ` +
      `a plug counted as ${costs.event} visits`;
    const when = facts.on ?? `no visit pays within ${daysInWords(settings.intervals.maxDays)}`;
    return { code: 'cost_least', facts, text: `${text}: ${when}.` };
  };
  return { rule: 'cost_least', day, reason };
}

/** Gel hoses out, crust does not. */
function hardening(input: DueCase): DueCandidate | null {
  const softDays = softDaysOf(input.ochre, input.staysWet, input.settings);
  const sinceDay = input.history.cleanSinceDay;
  if (softDays === null || sinceDay === null) return null;
  const day = sinceDay + softDays;
  const { staysWet } = input;
  const reason = (): Reason => {
    const wet = staysWet === true ? 'stays wet' : 'dries out';
    const assumed = staysWet === null ? ' (assumed)' : '';
    const after = input.history.lastClean === null ? 'it was laid' : 'a clean';
    const text = `Ochre hardens ${daysInWords(softDays)} after ${after} in a line that ${wet}${assumed}`;
    return dayReason('hardening', text, { softDays, staysWet, since: isoDate(sinceDay) }, day);
  };
  return { rule: 'hardening', day, reason };
}

function careTermsDue(input: DueCase): DueCandidate | null {
  const terms = input.careTerms;
  const intervalDays = terms === null ? null : careIntervalDays(terms);
  const day = terms === null ? null : careTermsDay(terms, input.history.cleanSinceDay, cycleStartDay(input));
  if (day === null) return null;
  const text = `Care terms promise a visit every ${daysInWords(intervalDays ?? 0)}`;
  return { rule: 'care_terms', day, reason: () => dayReason('care_terms', text, { intervalDays }, day) };
}

/**
 * Day on which terms bring the next visit to a line that is clean since a day; null: they promise none. One never cleaned
 * counts from the terms' beginning, or from where its own cycle starts where that is later.
 */
export function careTermsDay(
  terms: CareTerms,
  cleanSinceDay: number | null,
  knownSinceDay: number,
): number | null {
  const intervalDays = careIntervalDays(terms);
  if (intervalDays === null) return null;
  const sinceDay =
    cleanSinceDay === null
      ? Math.max(knownSinceDay, terms.fromDay)
      : Math.max(cleanSinceDay, terms.fromDay - intervalDays);
  const day = sinceDay + intervalDays;
  return terms.toDay !== null && day > terms.toDay ? null : day;
}

/** The longest time between two visits that keeps the terms; null when they promise none. */
export function careIntervalDays(terms: CareTerms): number | null {
  const byVisits =
    terms.visitsPerYear !== null && terms.visitsPerYear > 0 ? Math.floor(365 / terms.visitsPerYear) : null;
  if (terms.intervalDays === null) return byVisits;
  return byVisits === null ? terms.intervalDays : Math.min(terms.intervalDays, byVisits);
}

/** A line just cleaned is left alone for the least interval: its doubt then is about the clean, not about growth. */
function notTooSoon(day: number, { history, settings }: DueCase): number {
  const cleaned = history.lastClean;
  return cleaned === null ? day : Math.max(day, cleaned.day + settings.intervals.minDays);
}
