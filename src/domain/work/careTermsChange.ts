import type { CareVerdict } from './careTermsVerdict.js';

/** What changing care terms would move, over all terms of one verdict. */
export interface TermsChange {
  verdict: CareVerdict;
  terms: number;
  /** Without an agreed price: not in the sums. */
  withoutPrice: number;
  /** A visit's price over a year of visits, minor units of money. */
  yearNowMinor: number;
  yearProposedMinor: number;
}

const TO_CHANGE = ['too_long', 'too_long_assumed', 'needlessly_short'] as const;

/**
 * Terms count once, however many lines they hold for: under the first verdict that one of these has, at the shortest
 * interval proposed for those lines.
 */
export function termsChanges(
  lines: readonly {
    careTermsId: string;
    verdict: CareVerdict;
    proposedDays: number | null;
    yearNowMinor: number | null;
    yearProposedMinor: number | null;
  }[],
): TermsChange[] {
  const settled = new Set<string>();
  return TO_CHANGE.map((verdict) => {
    const change: TermsChange = { verdict, terms: 0, withoutPrice: 0, yearNowMinor: 0, yearProposedMinor: 0 };
    const own = lines
      .filter((line) => line.verdict === verdict && !settled.has(line.careTermsId))
      .sort((a, b) => (a.proposedDays ?? 0) - (b.proposedDays ?? 0));
    for (const { careTermsId, yearNowMinor, yearProposedMinor } of own) {
      if (settled.has(careTermsId)) continue;
      settled.add(careTermsId);
      change.terms++;
      if (yearNowMinor === null || yearProposedMinor === null) change.withoutPrice++;
      else {
        change.yearNowMinor += yearNowMinor;
        change.yearProposedMinor += yearProposedMinor;
      }
    }
    return change;
  });
}
