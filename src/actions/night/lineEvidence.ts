import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { LineVisit } from '../../domain/fouling/dueDateHistory.js';
import type { EvidenceEvent, LineEvidence } from '../../domain/fouling/evidence.js';
import { lineVisits } from '../../domain/fouling/lineVisits.js';
import type {
  Basement,
  Bound,
  Deposit,
  LineKind,
  Material,
  Method,
  Phase,
  PlugCause,
} from '../../domain/words.js';
import type { Row } from '../ports.js';

/** A line as the night works on it: its facts, its evidence, and its visits for the rules on intervals. */
export interface NightLine {
  lineId: string;
  siteId: string;
  systemId: string;
  kind: LineKind;
  basement: Basement;
  lengthM: number | null;
  boreMm: number | null;
  ironMgL: number | null;
  underSlab: boolean;
  staysWet: boolean | null;
  actionLimit: number | null;
  plugLimit: number | null;
  isDischarge: boolean;
  pitId: string | null;
  drainsToLineId: string | null;
  epochId: string | null;
  cleanFromDay: number | null;
  bookedSinceDay: number;
  deposits: Deposit[];
  evidence: LineEvidence;
  visits: LineVisit[];
  lastEvidenceAt: string | null;
}

const DAY_MS = 86_400_000;
const dayOf = (at: unknown): number => Date.parse(String(at)) / DAY_MS;
const numberOf = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);

/** Lines and their events, both in the order of line ids, as the night works on them. */
export function nightLines(lineRows: readonly Row[], eventRows: readonly Row[], today: IsoDate): NightLine[] {
  const events = new Map<string, Row[]>();
  for (const row of eventRows) {
    const id = String(row['line_id']);
    const held = events.get(id);
    if (held) held.push(row);
    else events.set(id, [row]);
  }
  return lineRows.map((row) => nightLine(row, events.get(String(row['id'])) ?? [], today));
}

function nightLine(row: Row, allEvents: readonly Row[], today: IsoDate): NightLine {
  const epochDay = row['started_on'] === null ? null : dayNumber(String(row['started_on']));
  const startsClean = row['begins'] === 'clean';
  const events = epochDay === null ? allEvents : allEvents.filter((event) => dayOf(event['at']) >= epochDay);
  const firstDay = events[0] ? Math.floor(dayOf(events[0]['at'])) : dayNumber(today);
  const cleanFromDay = startsClean && epochDay !== null ? epochDay : null;
  const startDay = cleanFromDay ?? Math.min(firstDay, epochDay ?? firstDay);
  const evidenceEvents = events.map(eventOf).filter((event): event is EvidenceEvent => event !== null);
  return {
    lineId: String(row['id']),
    siteId: String(row['site_id']),
    systemId: String(row['system_id']),
    kind: row['kind'] as LineKind,
    basement: row['basement'] as Basement,
    lengthM: numberOf(row['length_m']),
    boreMm: numberOf(row['bore_mm']),
    ironMgL: numberOf(row['iron_mg_l']),
    underSlab: row['under_slab'] === true,
    staysWet: row['stays_wet'] === null ? null : row['stays_wet'] === true,
    actionLimit: numberOf(row['action_limit']),
    plugLimit: numberOf(row['plug_limit']),
    isDischarge: row['is_discharge'] === true,
    pitId:
      row['discharge_of'] !== null
        ? String(row['discharge_of'])
        : row['drains_to_pit_id'] === null
          ? null
          : String(row['drains_to_pit_id']),
    drainsToLineId: row['drains_to_line_id'] === null ? null : String(row['drains_to_line_id']),
    epochId: row['epoch_id'] === null ? null : String(row['epoch_id']),
    cleanFromDay,
    bookedSinceDay: startDay,
    deposits: events.filter((event) => event['deposit'] !== null).map((event) => event['deposit'] as Deposit),
    evidence: {
      lineId: String(row['id']),
      siteId: String(row['site_id']),
      area: String(row['area']),
      kind: row['kind'] as LineKind,
      material: row['material'] as Material,
      boreMm: numberOf(row['bore_mm']),
      ironMgL: numberOf(row['iron_mg_l']),
      start: { kind: startsClean ? 'clean' : 'unknown', day: startDay },
      events: evidenceEvents,
    },
    visits: lineVisits(evidenceEvents),
    lastEvidenceAt: events.length > 0 ? String(events.at(-1)?.['at']) : null,
  };
}

function eventOf(row: Row): EvidenceEvent | null {
  const day = dayOf(row['at']);
  if (row['kind'] === 'clean') return { kind: 'clean', day };
  if (row['kind'] === 'regime') return { kind: 'regime', day };
  const id = String(row['id']);
  if (row['plug_cause'] !== null) return { kind: 'plugged', day, cause: row['plug_cause'] as PlugCause, id };
  if (row['occlusion'] === null) return null;
  return {
    kind: 'reading',
    day,
    id,
    occlusion: Number(row['occlusion']),
    sd: Number(row['standard_error']),
    bound: row['bound'] as Bound,
    method: row['method'] as Method,
    phase: row['phase'] as Phase,
  };
}
