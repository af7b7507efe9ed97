import type { DueRule } from './dueDateReason.js';
import { chanceBy } from './selfScore.js';

/**
 * Whether a plug was foreseen: the line was `due` by then for its danger; or the newest forecast held it `likely` to be
 * past its action limit by then. Not: it was `due_otherwise`, by hardening, terms or custom, which says nothing of a
 * plug; or `not_foreseen` at all; or there was `no_forecast`.
 */
export const FORESEEN = ['due', 'likely', 'due_otherwise', 'not_foreseen', 'no_forecast'] as const;
export type Foreseen = (typeof FORESEEN)[number];

/** The newest forecast stored on or before the day the plug was found; days are day numbers. */
export interface ForecastBefore {
  asOfDay: number;
  dueDay: number | null;
  /** What set the day; null where it was not kept. */
  dueRule: DueRule | null;
  /** Of having passed the action limit by the stored days ahead. */
  actionChances: readonly number[];
}

/** Rules that speak of the danger of a plug. */
const BY_DANGER: ReadonlySet<DueRule> = new Set([
  'over_limit',
  'risk',
  'cost_least',
  'after_plug',
  'recheck',
  'limit_passed',
]);

/** As likely as not (common practice, no source). */
const LIKELY = 0.5;

export function foreseenPlug(forecast: ForecastBefore | null, foundDay: number): Foreseen {
  if (forecast === null) return 'no_forecast';
  const due = forecast.dueDay !== null && forecast.dueDay <= foundDay;
  if (due && forecast.dueRule !== null && BY_DANGER.has(forecast.dueRule)) return 'due';
  const chance =
    forecast.actionChances.length === 0 ? 0 : chanceBy(forecast.actionChances, foundDay - forecast.asOfDay);
  if (chance >= LIKELY) return 'likely';
  return due ? 'due_otherwise' : 'not_foreseen';
}
