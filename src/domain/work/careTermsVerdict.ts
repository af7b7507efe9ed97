import type { DueRule } from '../fouling/dueDateReason.js';
import type { OwnerSettings } from './settings.js';

export const CARE_VERDICTS = ['too_long', 'needlessly_short', 'fits', 'not_told'] as const;
export type CareVerdict = (typeof CARE_VERDICTS)[number];

/** Rules by which the line itself, not custom, asks to be seen sooner. */
const THE_LINE_ASKS: ReadonlySet<DueRule> = new Set([
  'over_limit',
  'risk',
  'cost_least',
  'hardening',
  'after_plug',
  'recheck',
]);

/**
 * Care terms are too long where the line itself asks to be seen sooner, by more than a due date moves without news;
 * needlessly short only where the night says so: three agreeing readings by camera or draw-down and one wet season.
 */
export function careTermsVerdict(
  line: {
    termsDays: number;
    /** Null: the line has no date. */
    intervalDays: number | null;
    dueRule: DueRule | null;
    /** Told by the night with the due date. */
    needlesslyShort: boolean;
  },
  { intervals }: Pick<OwnerSettings, 'intervals'>,
): CareVerdict {
  const { termsDays, intervalDays, dueRule, needlesslyShort } = line;
  if (intervalDays === null || dueRule === null) return 'not_told';
  const slack = Math.max(intervals.steadyDays, intervals.steadyShare * termsDays);
  if (THE_LINE_ASKS.has(dueRule) && intervalDays < termsDays - slack) return 'too_long';
  return needlesslyShort && dueRule === 'care_terms' ? 'needlessly_short' : 'fits';
}
