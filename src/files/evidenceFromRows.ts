import type { LineRow, ReadingRow } from '../actions/clientBase.js';
import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import type { EvidenceEvent, LineEvidence } from '../domain/fouling/evidence.js';
import { occlusionOf } from '../domain/readings/occlusionOf.js';
import { startsClean } from '../domain/work/bookStart.js';

const DAY_MS = 86_400_000;

/** Lines and readings of a spreadsheet as the estimator reads them; a row before cleaning implies the clean. */
export function evidenceFromRows(
  lines: readonly LineRow[],
  readings: readonly ReadingRow[],
  asOf: IsoDate,
): LineEvidence[] {
  const byLine = new Map<string, ReadingRow[]>();
  for (const reading of readings) {
    const held = byLine.get(reading.lineId);
    if (held) held.push(reading);
    else byLine.set(reading.lineId, [reading]);
  }
  const asOfDay = dayNumber(asOf);
  return lines.map((line) => {
    const own = (byLine.get(line.lineId) ?? []).sort((a, b) => (a.observedAt < b.observedAt ? -1 : 1));
    const firstDay = own[0] ? Date.parse(own[0].observedAt) / DAY_MS : asOfDay;
    const laid = line.installedOn === null ? null : dayNumber(line.installedOn);
    const clean = startsClean(laid, firstDay, own.length);
    return {
      lineId: line.lineId,
      siteId: line.siteId,
      area: '', // a spreadsheet of lines names no town
      kind: line.kind,
      material: line.material,
      boreMm: line.boreMm,
      ironMgL: line.ferrousIronMgL,
      start: {
        kind: clean ? ('clean' as const) : ('unknown' as const),
        day: clean && laid !== null ? laid : firstDay,
      },
      events: own.flatMap((row, i) => eventsOf(row, `${line.lineId}/${i}`, line)),
    };
  });
}

function eventsOf(row: ReadingRow, id: string, line: LineRow): EvidenceEvent[] {
  const day = Date.parse(row.observedAt) / DAY_MS;
  const events: EvidenceEvent[] = [];
  if (row.plugged) {
    events.push({ kind: 'plugged', day, cause: row.plugCause ?? 'deposit', id });
  } else if (row.occlusion !== null && row.method !== null) {
    const got = occlusionOf(
      { method: row.method, share: row.occlusion },
      {
        kind: line.kind,
        material: line.material,
        boreMm: line.boreMm,
        slope: line.slopePct === null ? null : line.slopePct / 100,
        cleanDrawdownMmPerMinute: null,
      },
    );
    if (got.ok) {
      events.push({
        kind: 'reading',
        day,
        occlusion: got.occlusion,
        sd: got.standardError,
        bound: got.bound,
        method: row.method,
        phase: row.phase,
        id,
      });
    }
  }
  if (row.phase === 'before_cleaning') events.push({ kind: 'clean', day });
  return events;
}
