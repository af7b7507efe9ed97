import { chanceBy } from './selfScore.js';

/**
 * Whether a plug was foreseen: the line was `due` by then; or the newest forecast held it `likely` to be past its action
 * limit by then; or `not_foreseen`; or there was `no_forecast`.
 */
export const FORESEEN = ['due', 'likely', 'not_foreseen', 'no_forecast'] as const;
export type Foreseen = (typeof FORESEEN)[number];

/** The newest forecast stored on or before the day the plug was found; days are day numbers. */
export interface ForecastBefore {
  asOfDay: number;
  dueDay: number | null;
  /** Of having passed the action limit by the stored days ahead. */
  actionChances: readonly number[];
}

/** As likely as not (common practice, no source). */
const LIKELY = 0.5;

export function foreseenPlug(forecast: ForecastBefore | null, foundDay: number): Foreseen {
  if (forecast === null) return 'no_forecast';
  if (forecast.dueDay !== null && forecast.dueDay <= foundDay) return 'due';
  const chance =
    forecast.actionChances.length === 0 ? 0 : chanceBy(forecast.actionChances, foundDay - forecast.asOfDay);
  return chance >= LIKELY ? 'likely' : 'not_foreseen';
}
