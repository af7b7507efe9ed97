import { isoDate } from '../calendar/isoDate.js';
import { dueBounds, lookDay } from './dueDateBounds.js';
import { dueCandidates } from './dueDateCandidates.js';
import {
  type DecisionEffect,
  decisionInForce,
  outsideClosedSeasons,
  plugSince,
  type SoonAfterClean,
} from './dueDateDecision.js';
import type { LineHistory } from './dueDateHistory.js';
import {
  cycleStartDay,
  type DueCandidate,
  type DueCase,
  type DueDate,
  type DueDateInput,
} from './dueDateInput.js';
import {
  actionChanceReason,
  type DueRule,
  noFlowSince,
  noFlowText,
  percent,
  type Reason,
  SURE_BY,
  stoppedReason,
  toldChangeReason,
} from './dueDateReason.js';

/**
 * Day on which a line is next due, and why.
 *
 * The earliest of what asks for a visit (past its action limit, yearly risk spent, cheapest, hardening, care terms) and of
 * what no visit may come after (plug, recheck, first interval, growth, longest interval); then out of closed
 * seasons, kept where it was while nothing new is known, and last the client's decision, which rules. A day before the
 * forecast's is one that was missed.
 */
export function dueDate(asked: DueDateInput): DueDate {
  const { forecast, limits } = asked;
  const line: DueCase = {
    ...asked,
    action: forecast.passage(limits.action),
    plug: forecast.passage(limits.plug),
  };
  const candidates = [...dueCandidates(line), ...dueBounds(line)];
  const first = earliest(candidates);
  const decision = decisionInForce(line.decisions, forecast.asOfDay);
  const { pluggedSinceDay } = line.history;
  const firstReason = first.reason();
  const news = newsReasons(line, first.rule, firstReason);
  const plug = plugSince(decision, pluggedSinceDay);
  const anew = plug === null ? [] : [plug];
  if (decision !== null && decision.notBeforeDay === null) {
    return told(line, null, decision.rule, decision, candidates, [
      decision.reason,
      ...anew,
      firstReason,
      ...news,
    ]);
  }

  const wantedDay = Math.max(forecast.asOfDay, first.day);
  const custom = soonAfterClean(line, first, candidates);
  const season = outsideClosedSeasons(wantedDay, forecast.asOfDay, null, line.closedSeasons, custom);
  // A decision's day stands still by itself, and the day before it must not be held up by it once it has run out.
  // What was due before today says so: how late it is decides who is visited first.
  const day = season.day === forecast.asOfDay ? Math.min(season.day, first.day) : season.day;
  const steady = decision === null ? steadied(day, line, fixedDay(candidates)) : { day, reason: null };
  const put = postponed(steady.day, decision, line);
  const rule =
    decision !== null && put.day > steady.day
      ? decision.rule
      : season.day < wantedDay
        ? 'closed_season'
        : first.rule;
  const beside = candidates.filter(
    ({ rule }, i) =>
      candidates[i] !== first && (pluggedSinceDay === null ? ALWAYS_TOLD : TOLD_WHILE_PLUGGED).has(rule),
  );
  const reasons = [
    firstReason,
    ...beside.map(({ reason }) => reason()),
    ...news,
    season.reason,
    steady.reason,
    decision?.reason ?? null,
    ...anew,
    put.reason,
    needlesslyShort(line, rule, first, candidates),
  ].filter((reason) => reason !== null);
  return told(line, put.day, rule, decision, candidates, reasons);
}

/** Rules that ask by custom, whatever the bore looks like. */
const CUSTOM: ReadonlySet<DueRule> = new Set(['hardening', 'first_interval', 'growth']);

/** Two trips to one house within six weeks lose the client (common practice, no source); a line may be left alone longer. */
const TRIPS_APART_DAYS = 42;
/** No closed season makes an interval longer than so many times what custom asks for (common practice, no source). */
const LONGEST_STRETCH = 2;

/** Null where more than custom asks for the visit, or no clean is on record. Cost alone brings nobody back so soon. */
function soonAfterClean(
  { history, settings }: DueCase,
  first: DueCandidate & { day: number },
  candidates: readonly DueCandidate[],
): SoonAfterClean | null {
  const cleanedDay = history.lastClean?.day ?? null;
  if (cleanedDay === null || !CUSTOM.has(first.rule)) return null;
  const needed = candidates.flatMap(({ rule: other, day }) =>
    day === null || CUSTOM.has(other) || other === 'cost_least' ? [] : [day],
  );
  const leastDays = Math.max(TRIPS_APART_DAYS, settings.intervals.minDays);
  const stretched = cleanedDay + LONGEST_STRETCH * (first.day - cleanedDay);
  return { cleanedDay, leastDays, neededByDay: Math.min(...needed, stretched) };
}

/** Past these no line may be let to wait: danger, and what was promised. The others are custom and cost. */
const BROOKS_NO_WAITING: ReadonlySet<DueRule> = new Set([
  'over_limit',
  'after_plug',
  'recheck',
  'risk',
  'care_terms',
]);

/**
 * How long a visit that is late may wait for a week with room: until a rule of danger or a promise asks for it, until
 * the chance of being past the action limit is no longer small, until roads close. What the client decided stands.
 */
function waitsUntilDay(
  line: DueCase,
  dueDay: number | null,
  decision: DecisionEffect | null,
  candidates: readonly DueCandidate[],
): number | null {
  const { forecast, action, closedSeasons, settings } = line;
  const today = forecast.asOfDay;
  if (decision !== null) return dueDay;
  const stillSmall = action.quantile(settings.visits.lateActionChance);
  const closes = closedSeasons.filter(({ toDay }) => toDay >= today).map(({ fromDay }) => fromDay - 1);
  const days = [
    ...candidates.flatMap(({ rule, day }) => (day !== null && BROOKS_NO_WAITING.has(rule) ? [day] : [])),
    ...(stillSmall === null ? [] : [today + Math.floor(stillSmall)]),
    ...closes,
  ];
  return days.length === 0 ? null : Math.min(...days);
}

function openFromDay({ forecast, closedSeasons }: DueCase, dueDay: number | null): number | null {
  const ends = closedSeasons.map(({ toDay }) => toDay + 1);
  const before = ends.filter((day) => dueDay !== null && day <= dueDay && day > forecast.asOfDay);
  return before.length === 0 ? null : Math.max(...before);
}

/** Beside the rule that won, the owner always sees the risk, the cost and the promise. */
const ALWAYS_TOLD: ReadonlySet<DueRule> = new Set(['risk', 'cost_least', 'care_terms']);

/** What the forecast says of risk and cost is of a line that runs. */
const TOLD_WHILE_PLUGGED: ReadonlySet<DueRule> = new Set(['over_limit', 'care_terms']);

function earliest(candidates: readonly DueCandidate[]): DueCandidate & { day: number } {
  const dated = candidates.filter((each): each is DueCandidate & { day: number } => each.day !== null);
  return dated.reduce((first, each) => (each.day < first.day ? each : first));
}

/**
 * What a certain find and a told change of the running cycle say, and each reading in doubt of the running cycle and the last; `holdsDate`: the day stands on its not being judged.
 */
function newsReasons(line: DueCase, rule: DueRule, why: Reason): Reason[] {
  const { history } = line;
  const sure = history.certainFind === null || 'sureBy' in why.facts ? [] : [sureReason(history.certainFind)];
  const besides = [noFlowReason(line, why), stoppedReason(history), toldChangeReason(history)].filter(
    (reason) => reason !== null,
  );
  const plugs = history.doubtedPlugs.map(({ id, day }) => {
    const on = isoDate(day);
    const holdsDate = history.pluggedSinceDay === day || rule === 'after_plug';
    return {
      code: 'doubted_reading',
      facts: { inspectionId: id, occlusion: 1, on, holdsDate },
      text: `That deposit plugged it, found on ${on}, does not fit the line and is in doubt until somebody confirms or dismisses it.`,
    };
  });
  const inDoubt = history.doubtedReadings.map(({ id, day, occlusion, high, left }) => {
    const on = isoDate(day);
    const holdsDate = rule === 'recheck' && high && !left;
    const what = left
      ? `${percent(occlusion)} blocked, read after the clean of ${on},`
      : `${percent(occlusion)} blocked, found on ${on},`;
    return {
      code: 'doubted_reading',
      facts: { inspectionId: id, occlusion, on, holdsDate },
      text: `${what} does not fit the line and is in doubt until somebody confirms or dismisses it.`,
    };
  });
  return [...sure, ...plugs, ...inDoubt, ...besides];
}

/** Said once: the recheck says it itself. */
function noFlowReason(line: DueCase, why: Reason): Reason | null {
  const day = noFlowSince(line);
  if (day === null || 'noFlowOn' in why.facts) return null;
  return { code: 'no_flow', facts: { on: isoDate(day) }, text: `${noFlowText(day)}.` };
}

function sureReason({ id, day, occlusion, sureBy }: NonNullable<LineHistory['certainFind']>): Reason {
  const on = isoDate(day);
  const by = SURE_BY[sureBy ?? 'person'];
  return {
    code: 'certain_reading',
    facts: { inspectionId: id, occlusion, on, sureBy },
    text: `${percent(occlusion)} blocked, found on ${on}, was in doubt and is ${by}: it counts in full.`,
  };
}

/** Rules that keep an interval short whatever the bore looks like; crust is no reason of the bore. */
const SHORT_BY_CUSTOM: ReadonlySet<DueRule> = new Set(['care_terms', 'first_interval', 'growth']);

/** Any other rule that asks within so much of the interval more leaves no room worth a word (common practice, no source). */
const WORTH_A_WORD = 1.1;

/**
 * Said only after agreeing sharp readings and a wet season, and only where the bore alone would decide and leaves room:
 * the forecast for one step of growth more, the other rules for a tenth more.
 */
function needlesslyShort(
  line: DueCase,
  rule: DueRule,
  first: DueCandidate & { day: number },
  candidates: readonly DueCandidate[],
): Reason | null {
  const { history, limits, settings } = line;
  if (!history.needlesslyShort || !SHORT_BY_CUSTOM.has(rule)) return null;
  const startDay = cycleStartDay(line);
  const asksSoon = ({ rule: other, day }: DueCandidate): boolean => {
    const room = READS_THE_FORECAST.has(other) ? settings.growth.factor : WORTH_A_WORD;
    return day !== null && day <= startDay + room * (first.day - startDay);
  };
  if (candidates.some((each) => each !== first && asksSoon(each))) return null;
  const { readingsForNeedlesslyShort: readings, needlesslyShortBelowShareOfAction } = settings.growth;
  const below = needlesslyShortBelowShareOfAction * limits.action;
  const text =
    `Needlessly short: the last ${readings} readings by camera or draw-down agree and lie below ` +
    `${percent(below)} blocked, a wet season among them.`;
  return { code: 'needlessly_short', facts: { readings, below }, text };
}

/** The earliest day that no forecast moves: all rules but those that read it. */
function fixedDay(all: readonly DueCandidate[]): number {
  const fixed = all.filter(({ rule }) => !READS_THE_FORECAST.has(rule));
  return Math.min(...fixed.map(({ day }) => day ?? Infinity));
}

const READS_THE_FORECAST: ReadonlySet<DueRule> = new Set(['over_limit', 'risk', 'cost_least']);

/**
 * A due day without news moves only by more than 3 days and 5 % of the interval: nightly pooling must not reprint
 * the client's card. It never stays beyond a day the calendar alone fixes, and a visit already overdue keeps the day it was due.
 */
function steadied(day: number, input: DueCase, fixedDay: number): { day: number; reason: Reason | null } {
  const before = input.previous?.dueDay ?? null;
  if (before === null || input.previous?.news !== false || before === day) return { day, reason: null };
  const today = input.forecast.asOfDay;
  const { steadyDays, steadyShare } = input.settings.intervals;
  const overdue = before <= today && day <= today;
  const near = Math.abs(day - before) <= Math.max(steadyDays, steadyShare * (before - cycleStartDay(input)));
  const beyond = before > Math.max(today, fixedDay) || isClosed(before, input);
  if (!overdue && (!near || beyond)) return { day, reason: null };
  const facts = { on: isoDate(before), wouldBe: isoDate(day) };
  const text = overdue
    ? `Due since ${facts.on}, and nobody came.`
    : `Nothing new: stays on ${facts.on} although tonight's figures say ${facts.wouldBe}.`;
  return { day: before, reason: { code: 'steady', facts, text } };
}

function isClosed(day: number, { closedSeasons }: DueCase): boolean {
  return closedSeasons.some(({ fromDay, toDay }) => day >= fromDay && day <= toDay);
}

function postponed(
  day: number,
  decision: DecisionEffect | null,
  input: DueCase,
): { day: number; reason: Reason | null } {
  const notBeforeDay = decision?.notBeforeDay ?? day;
  if (day >= notBeforeDay) return { day, reason: null };
  return outsideClosedSeasons(notBeforeDay, input.forecast.asOfDay, notBeforeDay, input.closedSeasons);
}

function told(
  input: DueCase,
  dueDay: number | null,
  rule: DueRule,
  decision: DecisionEffect | null,
  candidates: readonly DueCandidate[],
  reasons: readonly Reason[],
): DueDate {
  const { forecast, limits, action, plug } = input;
  const days = dueDay === null ? null : Math.max(0, dueDay - forecast.asOfDay);
  const { pluggedSinceDay } = input.history;
  const isPlugged = pluggedSinceDay !== null;
  const actionByDue = days === null ? null : action.chanceBy(days);
  const look = dueDay === null ? null : lookDay(input, dueDay);
  const notBeforeDay = decision?.notBeforeDay ?? null;
  const waitsUntil = waitsUntilDay(input, dueDay, decision, candidates);
  const openFrom = openFromDay(input, dueDay);
  const shown =
    days === null || actionByDue === null
      ? actionChanceReason(action.chanceBy(365), limits.action, forecast.asOfDay + 365)
      : actionChanceReason(actionByDue, limits.action, forecast.asOfDay + days);
  return {
    dueOn: dueDay === null ? null : isoDate(dueDay),
    dueDay,
    rule,
    intervalDays: dueDay === null ? null : dueDay - cycleStartDay(input),
    lookOn: look === null ? null : isoDate(look),
    notBefore: notBeforeDay === null ? null : isoDate(notBeforeDay),
    waitsUntil: waitsUntil === null ? null : isoDate(waitsUntil),
    openFrom: openFrom === null ? null : isoDate(openFrom),
    pluggedSinceDay,
    chances: {
      plugWithinYear: isPlugged ? 1 : plug.chanceBy(365),
      plugByDue: days === null ? null : isPlugged ? 1 : plug.chanceBy(days),
      actionByDue: isPlugged && days !== null ? 1 : actionByDue,
      actionWithin30Days: isPlugged ? 1 : action.chanceBy(30),
    },
    candidates,
    reasons: isPlugged ? reasons : [...reasons, shown],
  };
}
