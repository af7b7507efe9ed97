import type { EvidenceEvent, LineEvidence } from '../../src/domain/fouling/evidence.js';
import type { ReplayLine, ReplayMethod, ReplayReading, ReplayVisit } from './replayLines.js';

/** Standard errors an office would assume before its base has shown better. */
const ASSUMED_SD: Record<ReplayMethod, number> = { camera: 0.08, outlet_look: 0.1, timed_fill: 0.1 };

/** A simulated line's visits as the estimator reads them; it is told neither the rate nor the process. */
export function evidenceOf(
  line: ReplayLine,
  visits: readonly ReplayVisit[],
  ruledFromDay: number,
): LineEvidence {
  const events: EvidenceEvent[] = [];
  for (const visit of visits) {
    const read = (reading: ReplayReading | null, phase: 'before_cleaning' | 'after_cleaning'): void => {
      if (reading === null) return;
      events.push({
        kind: 'reading',
        day: visit.day,
        occlusion: reading.occlusion,
        sd: ASSUMED_SD[reading.method],
        bound: 'exact',
        method: reading.method,
        phase,
        id: `${line.id}-${visit.day}-${phase}`,
        called: visit.event,
      });
    };
    read(visit.before, 'before_cleaning');
    events.push({ kind: 'clean', day: visit.day });
    read(visit.after, 'after_cleaning');
  }
  return {
    lineId: line.id,
    siteId: line.site,
    area: 'A',
    kind: line.kind,
    material: 'unknown',
    boreMm: 100,
    ironMgL: line.ironMgL,
    start: { kind: 'clean', day: line.installedDay },
    ruledFromDay,
    events,
  };
}
