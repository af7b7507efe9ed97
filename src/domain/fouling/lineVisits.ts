import type { LineVisit } from './dueDateHistory.js';
import type { EvidenceEvent } from './evidence.js';

/** What is left is looked at within so long of the clean it belongs to. */
const SAME_VISIT_DAYS = 1;

/**
 * A line's visits, as the rules on intervals read them: readings and cleans of one day are one visit. A reading after
 * cleaning belongs to the clean before it, be it past midnight, and implies one where none is on record.
 *
 * @param doubted Ids of readings the statistics take for a slip: marked, so that no rule trusts them until a person
 *                confirms them. What such a reading says was left behind is passed over.
 */
export function lineVisits(
  events: readonly EvidenceEvent[],
  doubted: ReadonlySet<string> = new Set(),
): LineVisit[] {
  const visits: LineVisit[] = [];
  let cleaned: { visit: LineVisit; day: number } | null = null;
  const visitOn = (day: number): LineVisit => {
    const last = visits.at(-1);
    if (last?.day === Math.floor(day)) return last;
    const visit = { day: Math.floor(day), found: null, plugged: false, cleaned: false, residue: null };
    visits.push(visit);
    return visit;
  };
  for (const event of events) {
    if (event.kind === 'regime') continue;
    const isAfter = event.kind === 'reading' && event.phase === 'after_cleaning';
    if (isAfter && cleaned !== null && event.day - cleaned.day <= SAME_VISIT_DAYS) {
      if (!doubted.has(event.id)) cleaned.visit.residue = event.occlusion;
      continue;
    }
    const visit = visitOn(event.day);
    if (event.kind === 'clean' || isAfter) {
      visit.cleaned = true;
      cleaned = { visit, day: event.day };
    }
    if (event.kind === 'plugged') {
      // Ice, roots or a crushed pipe stop a line too, but are no fouling.
      visit.plugged ||= event.cause === 'deposit' || event.cause === 'unknown';
    } else if (event.kind === 'reading') {
      const isDoubted = doubted.has(event.id);
      if (isAfter) visit.residue = isDoubted ? null : event.occlusion;
      else if (!isDoubted || visit.found === null)
        visit.found = {
          method: event.method,
          occlusion: event.occlusion,
          standardError: event.sd,
          doubted: isDoubted,
        };
    }
  }
  return visits;
}
