import type { Found, LineVisit } from './dueDateHistory.js';
import type { Doubt, EvidenceEvent, ReadingEvent } from './evidence.js';

/** What is left is looked at within so long of the clean it belongs to. */
const SAME_VISIT_DAYS = 1;

/**
 * A line's visits, as the rules on intervals read them: readings and cleans of one day are one visit. A reading after
 * cleaning belongs to the clean before it, be it past midnight, and implies one where none is on record.
 *
 * @param doubts Readings the statistics take for a slip: marked, so that no rule trusts them until a person
 *               confirms them. What such a reading says was left behind is passed over, but named.
 */
export function lineVisits(
  events: readonly EvidenceEvent[],
  doubts: readonly Pick<Doubt, 'id' | 'fits'>[] = [],
): LineVisit[] {
  const fits = new Map(doubts.map((doubt) => [doubt.id, doubt.fits]));
  const visits: LineVisit[] = [];
  let cleaned: { visit: LineVisit; day: number } | null = null;
  const visitOn = (day: number): LineVisit => {
    const last = visits.at(-1);
    if (last?.day === Math.floor(day)) return last;
    const visit: LineVisit = {
      day: Math.floor(day),
      found: null,
      plugged: false,
      doubtedPlug: null,
      stoppedBy: null,
      cleaned: false,
      changed: null,
      residue: null,
      doubted: [],
    };
    visits.push(visit);
    return visit;
  };
  for (const event of events) {
    if (event.kind === 'regime') {
      visitOn(event.day).changed = event.cause ?? 'recognised';
      continue;
    }
    const isAfter = event.kind === 'reading' && event.phase === 'after_cleaning';
    const found = event.kind === 'reading' ? foundBy(event, fits.get(event.id)) : null;
    const ofClean: boolean = isAfter && cleaned !== null && event.day - cleaned.day <= SAME_VISIT_DAYS;
    const visit: LineVisit = ofClean && cleaned !== null ? cleaned.visit : visitOn(event.day);
    if (found?.doubted) visit.doubted.push({ ...found, day: Math.floor(event.day), left: isAfter });
    if (event.kind === 'clean' || (isAfter && !ofClean)) {
      visit.cleaned = true;
      cleaned = { visit, day: event.day };
    }
    if (event.kind === 'plugged') {
      // Ice, roots or a crushed pipe stop a line too, but are no fouling.
      if (event.cause !== 'deposit' && event.cause !== 'unknown') visit.stoppedBy = event.cause;
      else visit.plugged = true;
      if (fits.has(event.id)) visit.doubtedPlug = event.id;
    } else if (found !== null) {
      if (!isAfter) visit.found = surerOf(found, visit.found);
      else if (!found.doubted) visit.residue = found.occlusion;
    }
  }
  return visits;
}

function foundBy(event: ReadingEvent, fits: number | undefined): Found {
  const { id, method, occlusion, bound } = event;
  const doubted = fits !== undefined;
  return {
    id,
    method,
    occlusion,
    bound,
    standardError: event.sd,
    sureBy: event.agreed ? 'second_look' : event.confirmed ? 'person' : null,
    doubted,
    high: doubted && occlusion > fits,
  };
}

/** Of two readings of one day the surer counts; of two alike the later, of two in doubt the worse. */
function surerOf(later: Found, earlier: Found | null): Found {
  if (earlier === null) return later;
  const gain = sureness(later) - sureness(earlier);
  if (gain !== 0) return gain > 0 ? later : earlier;
  return later.doubted && earlier.occlusion > later.occlusion ? earlier : later;
}

const sureness = ({ sureBy, doubted }: Found): number => (sureBy !== null ? 2 : doubted ? 0 : 1);
