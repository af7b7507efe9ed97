import { isoDate } from '../calendar/isoDate.js';
import type { OwnerSettings } from './settings.js';

/** What the client signed up for on the lines of a visit. Money in minor units, days as day numbers. */
export interface TermsOfVisit {
  /** Day on which the terms themselves would bring the visit; null: they promise no interval. */
  termsDay: number | null;
  priceMinor: number | null;
  earlyVisitsPerYear: number;
  earlyPriceCapMinor: number | null;
  /** Early visits of the last year, done or still ahead. */
  earlyTaken: number;
  /** The site takes early visits without a question, however many. */
  alwaysWelcome: boolean;
}

export interface EarlyVisit {
  priceMinor: number;
  /** Why the client must be asked; null: standing consent covers it. */
  ask: string | null;
  reason: { code: string; facts: Record<string, number | string | null>; text: string };
}

/**
 * Whether a visit comes earlier than the client's terms, and whether standing consent covers it: so many early
 * visits a year, each up to the cap. An early visit whose price nobody set costs what a visit costs the business.
 *
 * @param visitDay Day the visit is wanted by.
 * @returns        Null where it is not early. Common practice, no source.
 */
export function earlyVisit(
  visitDay: number,
  terms: TermsOfVisit,
  { consent, costs }: Pick<OwnerSettings, 'consent' | 'costs'>,
): EarlyVisit | null {
  const { termsDay, earlyTaken, earlyPriceCapMinor: capMinor } = terms;
  if (termsDay === null || termsDay - visitDay <= consent.earlyFromDays) return null;
  const days = termsDay - visitDay;
  const allowed = Math.max(terms.earlyVisitsPerYear, consent.earlyVisitsPerYear);
  const priceMinor = terms.priceMinor ?? costs.visitMinor;
  const ask = terms.alwaysWelcome ? null : whyAsk(earlyTaken, allowed, priceMinor, capMinor);
  return {
    priceMinor,
    ask,
    reason: {
      code: 'early_visit',
      facts: { termsDay: isoDate(termsDay), days, earlyTaken, allowed, priceMinor, capMinor },
      text: `${days} days before the care terms would bring it (${isoDate(termsDay)}): ${ask ?? 'covered by standing consent'}.`,
    },
  };
}

function whyAsk(taken: number, allowed: number, priceMinor: number, capMinor: number | null): string | null {
  if (taken >= allowed)
    return allowed === 0
      ? 'the terms allow no early visit without a question'
      : `${taken} of ${allowed} early visits a year are taken`;
  if (capMinor !== null && priceMinor > capMinor) return 'its price is above the cap of the standing consent';
  return null;
}
