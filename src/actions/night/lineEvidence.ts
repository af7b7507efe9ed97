import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { EvidenceEvent, LineEvidence } from '../../domain/fouling/evidence.js';
import type { Basement, Deposit, LineKind, Material } from '../../domain/words.js';
import type { Row } from '../ports.js';
import type { NightEvent } from './nightEvents.js';

/** What the books say of a line, its events apart. */
export interface LineFacts {
  lineId: string;
  siteId: string;
  kind: LineKind;
  material: Material;
  basement: Basement;
  area: string;
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
  epochStartedOn: IsoDate | null;
  epochBegins: 'clean' | 'unknown' | null;
  /** Business day of the first night: visits booked since go by this service's own dates. Null before it. */
  ruledFrom: IsoDate | null;
}

/** A line as the night works on it: its facts and its evidence. */
export interface NightLine extends LineFacts {
  cleanFromDay: number | null;
  bookedSinceDay: number;
  deposits: Deposit[];
  evidence: LineEvidence;
  lastEvidenceAt: string | null;
}

const DAY_MS = 86_400_000;
const dayOf = ({ atMs }: NightEvent): number => atMs / DAY_MS;
const numberOf = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);
const textOf = (value: unknown): string | null =>
  value === null || value === undefined ? null : String(value);

/** Facts out of a row of the store's line query. */
export function lineFacts(row: Row): LineFacts {
  return {
    lineId: String(row['id']),
    siteId: String(row['site_id']),
    kind: row['kind'] as LineKind,
    material: row['material'] as Material,
    basement: row['basement'] as Basement,
    area: String(row['area']),
    boreMm: numberOf(row['bore_mm']),
    ironMgL: numberOf(row['iron_mg_l']),
    underSlab: row['under_slab'] === true,
    staysWet: row['stays_wet'] === null ? null : row['stays_wet'] === true,
    actionLimit: numberOf(row['action_limit']),
    plugLimit: numberOf(row['plug_limit']),
    isDischarge: row['is_discharge'] === true,
    pitId: textOf(row['discharge_of']) ?? textOf(row['drains_to_pit_id']),
    drainsToLineId: textOf(row['drains_to_line_id']),
    epochId: textOf(row['epoch_id']),
    epochStartedOn: textOf(row['started_on']),
    epochBegins: row['begins'] as LineFacts['epochBegins'],
    ruledFrom: textOf(row['ruled_from']),
  };
}

/** A line whose events are not looked at: enough for what its traits tell. */
export function bareEvidence(facts: LineFacts): LineEvidence {
  return {
    lineId: facts.lineId,
    siteId: facts.siteId,
    area: facts.area,
    kind: facts.kind,
    material: facts.material,
    boreMm: facts.boreMm,
    ironMgL: facts.ironMgL,
    start: { kind: 'unknown', day: 0 },
    ...(facts.ruledFrom === null ? {} : { ruledFromDay: dayNumber(facts.ruledFrom) }),
    events: [],
  };
}

/** @param allEvents In order of time; those of earlier epochs are left out. */
export function nightLine(facts: LineFacts, allEvents: readonly NightEvent[], today: IsoDate): NightLine {
  const epochDay = facts.epochStartedOn === null ? null : dayNumber(facts.epochStartedOn);
  const startsClean = facts.epochBegins === 'clean';
  const events = epochDay === null ? allEvents : allEvents.filter((event) => dayOf(event) >= epochDay);
  const firstDay = events[0] ? Math.floor(dayOf(events[0])) : dayNumber(today);
  const cleanFromDay = startsClean && epochDay !== null ? epochDay : null;
  const startDay = cleanFromDay ?? Math.min(firstDay, epochDay ?? firstDay);
  const evidenceEvents = events.map(eventOf).filter((event): event is EvidenceEvent => event !== null);
  const last = events.at(-1);
  return {
    ...facts,
    cleanFromDay,
    bookedSinceDay: startDay,
    deposits: events.map(({ deposit }) => deposit).filter((deposit) => deposit !== null),
    evidence: {
      ...bareEvidence(facts),
      start: { kind: startsClean ? 'clean' : 'unknown', day: startDay },
      events: evidenceEvents,
    },
    lastEvidenceAt: last ? new Date(last.atMs).toISOString() : null,
  };
}

function eventOf(event: NightEvent): EvidenceEvent | null {
  const { kind, confirmed, called, id, plugCause, occlusion, standardError, bound, method, phase } = event;
  const day = dayOf(event);
  if (kind === 'clean') return { kind, day };
  if (kind === 'regime') return { kind, day };
  if (plugCause !== null) return { kind: 'plugged', day, cause: plugCause, id };
  if (occlusion === null || standardError === null || bound === null || method === null || phase === null)
    return null;
  const reading = { kind, day, id, occlusion, sd: standardError, bound, method, phase };
  return { ...reading, ...(confirmed ? { confirmed } : {}), ...(called ? { called } : {}) };
}
