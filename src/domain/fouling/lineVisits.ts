import type { LineVisit } from './dueDateHistory.js';
import type { EvidenceEvent } from './evidence.js';

/**
 * A line's visits, as the rules on intervals read them: readings and cleans of one day are one visit.
 *
 * @param doubted Ids of readings the statistics take for a slip: until a person confirms them no rule goes by them.
 */
export function lineVisits(
  events: readonly EvidenceEvent[],
  doubted: ReadonlySet<string> = new Set(),
): LineVisit[] {
  const visits: LineVisit[] = [];
  for (const event of events) {
    if (event.kind === 'regime') continue;
    const day = Math.floor(event.day);
    let visit = visits.at(-1);
    if (visit?.day !== day) {
      visit = { day, found: null, plugged: false, cleaned: false, residue: null };
      visits.push(visit);
    }
    if (event.kind === 'clean') visit.cleaned = true;
    // Ice, roots or a crushed pipe stop a line too, but are no fouling.
    else if (event.kind === 'plugged')
      visit.plugged ||= event.cause === 'deposit' || event.cause === 'unknown';
    else if (doubted.has(event.id)) continue;
    else if (event.phase === 'after_cleaning') visit.residue = event.occlusion;
    else visit.found = { method: event.method, occlusion: event.occlusion, standardError: event.sd };
  }
  return visits;
}
