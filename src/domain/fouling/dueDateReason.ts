import { type IsoDate, isoDate } from '../calendar/isoDate.js';
import type { Basement, EpochBeginning, EpochCause, PlugCause, RegimeCause } from '../words.js';
import type { LineHistory } from './dueDateHistory.js';
import type { Consequence } from './policy.js';

/** What set a due date; the order is the order of mention when two fall on one day. */
export const DUE_RULES = [
  'refused',
  'postponed',
  'over_limit',
  'after_plug',
  'recheck',
  'limit_passed',
  'risk',
  'cost_least',
  'hardening',
  'care_terms',
  'first_interval',
  'growth',
  'max_interval',
  'closed_season',
] as const;
export type DueRule = (typeof DUE_RULES)[number];

export interface Reason {
  code: string;
  facts: Record<string, number | string | boolean | null>;
  text: string;
}

/** A chance as people say it: 4 %, 0.8 %, under 0.1 %. */
export function percent(chance: number): string {
  const share = 100 * chance;
  if (share > 0 && share < 0.1) return 'under 0.1 %';
  if (share < 100 && share > 99.5) return 'over 99 %';
  return `${share < 2.95 && share > 0 ? share.toFixed(1).replace(/\.0$/, '') : share.toFixed(0)} %`;
}

export function daysInWords(days: number): string {
  return days === 1 ? '1 day' : `${days} days`;
}

const FLOODS: Record<Basement, string> = {
  finished: 'a finished basement',
  basement: 'a basement',
  none: 'a line that floods no basement',
  unknown: 'a house whose basement is not known',
};

export function riskReason(
  facts: { plugWithinYear: number; yearlyRisk: number; spentOn: IsoDate | null },
  consequence: Consequence,
): Reason {
  const whose = consequence.wholeSystem
    ? `${FLOODS[consequence.basement]}, counted for all that drains through this line`
    : FLOODS[consequence.basement];
  const spent = facts.spentOn === null ? 'not reached within the forecast' : `reached on ${facts.spentOn}`;
  return {
    code: 'plug_risk',
    facts: { ...facts, basement: consequence.basement, wholeSystem: consequence.wholeSystem },
    text:
      `${percent(facts.plugWithinYear)} chance of plugging within a year if nobody comes; ` +
      `yearly limit is ${percent(facts.yearlyRisk)} for ${whose}; ${spent}.`,
  };
}

export function actionChanceReason(chance: number, actionLimit: number, byDay: number): Reason {
  const by = isoDate(byDay);
  return {
    code: 'action_chance',
    facts: { chance, actionLimit, by },
    text: `${percent(chance)} chance of being more than ${percent(actionLimit)} blocked by ${by}, where a clean takes more passes.`,
  };
}

const STOPPED_BY: Record<PlugCause, string> = {
  deposit: 'deposit',
  ice: 'ice',
  roots: 'roots',
  crushed: 'a crushed pipe',
  debris: 'debris',
  buried_outlet: 'a buried outlet',
  animal: 'an animal',
  unknown: 'something unknown',
};

/** Stopped by something else than deposit: no water runs, though no rule on fouling asks for a visit. */
export function stoppedReason({ stopped }: Pick<LineHistory, 'stopped'>): Reason | null {
  if (stopped === null) return null;
  const { cause, day } = stopped;
  const since = isoDate(day);
  return {
    code: 'stopped',
    facts: { cause, since },
    text:
      `Found stopped by ${STOPPED_BY[cause]} on ${since}, and nobody opened it since is on record: no water runs. ` +
      'An order of its own is for that; this date and its chances are of deposit alone.',
  };
}

/** Of the running cycle; null where none was cleaned so. */
export function noFlowSince({
  noFlowDay,
  history,
}: {
  noFlowDay: number | null;
  history: Pick<LineHistory, 'cleanSinceDay'>;
}): number | null {
  return noFlowDay !== null && noFlowDay >= (history.cleanSinceDay ?? -Infinity) ? noFlowDay : null;
}

export const noFlowText = (day: number): string =>
  `Cleaned on ${isoDate(day)}, water was not seen to run: it counts as no clean`;

const TOLD_CHANGE: Record<RegimeCause, string> = {
  new_pump: 'New pump',
  excavation: 'Excavation',
  partial_replacement: 'Part of the pipe replaced',
  recognised: 'Change of how it fouls',
};

/** A change told of in the running cycle, and what is made of it. Only new pipe takes away what lies in the line. */
export function toldChangeReason({ toldChange }: Pick<LineHistory, 'toldChange'>): Reason | null {
  if (toldChange === null) return null;
  const { cause, day } = toldChange;
  const on = isoDate(day);
  const lies = cause === 'partial_replacement' ? 'that counts as a clean' : 'what lies in the line stays';
  return {
    code: 'told_change',
    facts: { cause, on },
    text: `${TOLD_CHANGE[cause]} told on ${on}: how fast it fouls is taken as half forgotten; ${lies}.`,
  };
}

/** How a find came to be certain, in words. */
export const SURE_BY = {
  person: 'confirmed by a person',
  second_look: 'borne out by a second look',
} as const;

/** A rule that names a day, with the days it counted and from when. */
export function dayReason(code: DueRule, text: string, facts: Reason['facts'], day: number): Reason {
  const on = isoDate(day);
  return { code, facts: { ...facts, on }, text: `${text}: ${on}.` };
}

/**
 * What a line is taken to have held on the first day of its epoch, where a day on record decides that: until the first
 * clean its growth counts from there. Null where readings decide.
 *
 * @param start  As the epoch says, and why it began.
 * @param events Of the line, in order of their day.
 */
export function startReason(
  start: { startedOn: IsoDate; begins: EpochBeginning; because: EpochCause } | null,
  events: readonly { kind: string; day: number; phase?: string }[],
): Reason | null {
  if (start === null || start.begins !== 'clean') return null;
  const { startedOn, because } = start;
  const first = events.find(({ kind }) => kind !== 'regime');
  const foundOn = first === undefined ? null : isoDate(Math.floor(first.day));
  if (foundOn !== null && because !== 'replaced' && foundOn < startedOn) {
    const text =
      `Laid on ${startedOn} by its record, yet something was found in it on ${foundOn}: what it held at first counts as unknown. ` +
      'Correct the day, or, where a new pipe took its place, put that on record.';
    return { code: 'laid_midway', facts: { startedOn, foundOn }, text };
  }
  if (events.some(({ kind, phase }) => kind === 'clean' || phase === 'after_cleaning')) return null;
  const how = because === 'replaced' ? 'its pipe was replaced' : 'it was laid';
  const since =
    foundOn === null
      ? 'nothing was found in it since'
      : 'no clean since is on record, and growth counts from that day';
  const text = `Taken to have been clean when ${how} on ${startedOn}: ${since}.`;
  return { code: 'clean_when_laid', facts: { startedOn, because }, text };
}
