import type { DueRule } from '../fouling/dueDateReason.js';
import type { OwnerSettings } from './settings.js';

/** `too_long_assumed`: too long only as long as a fact nobody knows is as it is assumed. */
export const CARE_VERDICTS = [
  'too_long',
  'too_long_assumed',
  'needlessly_short',
  'fits',
  'not_told',
] as const;
export type CareVerdict = (typeof CARE_VERDICTS)[number];

/** Rules by which the line itself, not custom, asks to be seen sooner. */
const THE_LINE_ASKS: ReadonlySet<DueRule> = new Set([
  'over_limit',
  'risk',
  'cost_least',
  'hardening',
  'after_plug',
  'recheck',
  'limit_passed',
]);

/** An interval and what set it; null: the line has no date. */
export interface RuledInterval {
  intervalDays: number | null;
  dueRule: DueRule | null;
}

/** By more than so much an interval must differ from the terms to speak against them: a due date's own steadiness. */
export const careTermsSlack = (termsDays: number, { intervals }: Pick<OwnerSettings, 'intervals'>): number =>
  Math.max(intervals.steadyDays, intervals.steadyShare * termsDays);

/** Whether the line itself asks to be seen sooner than the terms say. */
export function asksSooner(
  termsDays: number,
  { intervalDays, dueRule }: RuledInterval,
  settings: Pick<OwnerSettings, 'intervals'>,
): boolean {
  if (intervalDays === null || dueRule === null) return false;
  return THE_LINE_ASKS.has(dueRule) && intervalDays < termsDays - careTermsSlack(termsDays, settings);
}

/**
 * Care terms are too long where the line itself asks to be seen sooner, by more than a due date moves without news;
 * needlessly short only where the night says so (three agreeing readings by camera or draw-down and one wet season)
 * and would come later by more than that if there were no terms.
 */
export function careTermsVerdict(
  line: RuledInterval & {
    termsDays: number;
    /** Told by the night with the due date. */
    needlesslyShort: boolean;
    /** What the night would set without terms; null where it was not asked or there is no date. */
    withoutTermsDays: number | null;
    /** What it would set if a fact that is only assumed were the other way; null where none is. */
    otherwise: RuledInterval | null;
  },
  settings: Pick<OwnerSettings, 'intervals'>,
): CareVerdict {
  const { termsDays, intervalDays, dueRule, needlesslyShort, withoutTermsDays, otherwise } = line;
  if (intervalDays === null || dueRule === null) return 'not_told';
  if (asksSooner(termsDays, line, settings))
    return otherwise !== null && !asksSooner(termsDays, otherwise, settings)
      ? 'too_long_assumed'
      : 'too_long';
  const later =
    withoutTermsDays !== null && withoutTermsDays > termsDays + careTermsSlack(termsDays, settings);
  return needlesslyShort && dueRule === 'care_terms' && later ? 'needlessly_short' : 'fits';
}
