import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { EvidenceEvent, LineEvidence, ReadingEvent } from '../../domain/fouling/evidence.js';
import {
  type Basement,
  BOUNDS,
  DEPOSITS,
  type Deposit,
  type LineKind,
  type Material,
  METHODS,
  PHASES,
  PLUG_CAUSES,
} from '../../domain/words.js';
import type { Row } from '../ports.js';
import { EVENT_KINDS, eventId, type NightEvent, NONE, type PackedEvents } from './nightEvents.js';
import { packEvents } from './packEvents.js';

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

/** @param events In order of time; those of earlier epochs are left out. */
export function nightLine(facts: LineFacts, events: readonly NightEvent[], today: IsoDate): NightLine {
  return packedLine(facts, packEvents([events]), 0, today);
}

/** Line i of a block; without the ids of its events, which take the longest to write, where nobody asks for them. */
export function packedLine(
  facts: LineFacts,
  packed: PackedEvents,
  i: number,
  today: IsoDate,
  withIds = true,
): NightLine {
  const epochDay = facts.epochStartedOn === null ? null : dayNumber(facts.epochStartedOn);
  const startsClean = facts.epochBegins === 'clean';
  const end = packed.first[i + 1] ?? 0;
  let from = packed.first[i] ?? 0;
  while (epochDay !== null && from < end && packed.day[from]! < epochDay) from++;
  const firstDay = from < end ? Math.floor(packed.day[from]!) : dayNumber(today);
  const cleanFromDay = startsClean && epochDay !== null ? epochDay : null;
  const startDay = cleanFromDay ?? Math.min(firstDay, epochDay ?? firstDay);
  const evidence = bareEvidence(facts);
  const events: EvidenceEvent[] = [];
  const deposits: Deposit[] = [];
  for (let e = from; e < end; e++) {
    const event = evidenceEvent(packed, e, withIds);
    if (event !== null) events.push(event);
    if (packed.deposit[e] !== NONE) deposits.push(DEPOSITS[packed.deposit[e]!]!);
  }
  evidence.start = { kind: startsClean ? 'clean' : 'unknown', day: startDay };
  evidence.events = events;
  return {
    ...facts,
    cleanFromDay,
    bookedSinceDay: startDay,
    deposits,
    evidence,
    lastEvidenceAt: from < end ? new Date(packed.atMs[end - 1]!).toISOString() : null,
  };
}

function evidenceEvent(packed: PackedEvents, e: number, withIds: boolean): EvidenceEvent | null {
  const day = packed.day[e]!;
  const kind = EVENT_KINDS[packed.kind[e]!]!;
  if (kind !== 'reading') return { kind, day };
  const id = withIds ? eventId(packed, e) : '';
  const cause = PLUG_CAUSES[packed.plugCause[e]!];
  if (cause !== undefined) return { kind: 'plugged', day, cause, id };
  const occlusion = packed.occlusion[e]!;
  const sd = packed.standardError[e]!;
  const bound = BOUNDS[packed.bound[e]!];
  const method = METHODS[packed.method[e]!];
  const phase = PHASES[packed.phase[e]!];
  if (Number.isNaN(occlusion + sd) || bound === undefined || method === undefined || phase === undefined)
    return null;
  const reading: ReadingEvent = { kind, day, id, occlusion, sd, bound, method, phase };
  if (packed.confirmed[e] === 1) reading.confirmed = true;
  if (packed.called[e] === 1) reading.called = true;
  return reading;
}
