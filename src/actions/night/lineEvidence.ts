import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { EvidenceEvent, LineEvidence, ReadingEvent } from '../../domain/fouling/evidence.js';
import { type LaidLines, layEach } from '../../domain/fouling/lineRead.js';
import {
  type Basement,
  BOUNDS,
  DEPOSITS,
  type Deposit,
  type EpochCause,
  type LineKind,
  type Material,
  METHODS,
  PHASES,
  PLUG_CAUSES,
  REGIME_CAUSES,
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
  epochBecause: EpochCause | null;
  /** Day the line was entered; null: today. */
  bookedOn: IsoDate | null;
  /** From here on nobody chose the visits freely: see `ruledFromDay`. Null where that is not so yet. */
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
    epochBecause: row['because'] as LineFacts['epochBecause'],
    bookedOn: textOf(row['booked_on']),
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

/**
 * Line i of a block.
 * @param into Objects for its events, where it is done with before the next line is asked for.
 */
export function packedLine(
  facts: LineFacts,
  packed: PackedEvents,
  i: number,
  today: IsoDate,
  into = new EventObjects(),
): NightLine {
  const evidence = packedEvidence(facts, packed, i, today, into);
  const cleanFromDay = evidence.start.kind === 'clean' && facts.epochStartedOn ? evidence.start.day : null;
  const deposits: Deposit[] = [];
  const end = packed.first[i + 1] ?? 0;
  const from = firstOfEpoch(facts, packed, i);
  for (let e = from; e < end; e++)
    if (packed.deposit[e] !== NONE) deposits.push(DEPOSITS[packed.deposit[e]!]!);
  return {
    lineId: facts.lineId,
    siteId: facts.siteId,
    kind: facts.kind,
    material: facts.material,
    basement: facts.basement,
    area: facts.area,
    boreMm: facts.boreMm,
    ironMgL: facts.ironMgL,
    underSlab: facts.underSlab,
    staysWet: facts.staysWet,
    actionLimit: facts.actionLimit,
    plugLimit: facts.plugLimit,
    isDischarge: facts.isDischarge,
    pitId: facts.pitId,
    drainsToLineId: facts.drainsToLineId,
    epochId: facts.epochId,
    epochStartedOn: facts.epochStartedOn,
    epochBegins: facts.epochBegins,
    epochBecause: facts.epochBecause,
    bookedOn: facts.bookedOn,
    ruledFrom: facts.ruledFrom,
    cleanFromDay,
    // A line of which nothing is on record yet counts from the day it was entered.
    bookedSinceDay:
      from < end || facts.bookedOn === null
        ? evidence.start.day
        : Math.min(evidence.start.day, dayNumber(facts.bookedOn)),
    deposits,
    evidence,
    lastEvidenceAt: from < end ? new Date(packed.atMs[end - 1]!).toISOString() : null,
  };
}

/** The evidence alone. */
export function packedEvidence(
  facts: LineFacts,
  packed: PackedEvents,
  i: number,
  today: IsoDate,
  into = new EventObjects(),
): LineEvidence {
  const epochDay = facts.epochStartedOn === null ? null : dayNumber(facts.epochStartedOn);
  const end = packed.first[i + 1] ?? 0;
  const from = firstOfEpoch(facts, packed, i);
  const firstDay = from < end ? Math.floor(packed.day[from]!) : dayNumber(today);
  const startsClean = facts.epochBegins === 'clean' && (from === end || (epochDay ?? 0) <= firstDay);
  const startDay = startsClean && epochDay !== null ? epochDay : Math.min(firstDay, epochDay ?? firstDay);
  const evidence = bareEvidence(facts);
  evidence.start = { kind: startsClean ? 'clean' : 'unknown', day: startDay };
  evidence.events = into.take(packed, from, end);
  return evidence;
}

/**
 * What was found before a pipe was replaced is another pipe's. Before a line was first laid nothing can have been found
 * in it: such a day is not believed, nor is the first one on record.
 */
function firstOfEpoch({ epochStartedOn, epochBecause }: LineFacts, packed: PackedEvents, i: number): number {
  const end = packed.first[i + 1] ?? 0;
  let from = packed.first[i] ?? 0;
  if (epochStartedOn === null || epochBecause === null || epochBecause === 'first_record') return from;
  const epochDay = dayNumber(epochStartedOn);
  if (epochBecause === 'replaced') while (from < end && packed.day[from]! < epochDay) from++;
  else if (from < end && packed.day[from]! < epochDay) return from;
  return afterOldPipe(packed, from, end, epochDay + 1);
}

/**
 * The day a pipe was put in has no hour: a plug and what was read before a clean of that day are what lay there before, and
 * so is all that came earlier.
 */
function afterOldPipe(packed: PackedEvents, from: number, end: number, nextDay: number): number {
  let first = from;
  for (let e = from; e < end && packed.day[e]! < nextDay; e++)
    if (packed.plugCause[e] !== NONE || packed.phase[e] === BEFORE_CLEANING) first = e + 1;
  return first;
}

const BEFORE_CLEANING = PHASES.indexOf('before_cleaning');

/** A block of lines laid out for the filter, one after the other. */
export function layPacked({
  day,
  facts,
  events,
}: {
  day: IsoDate;
  facts: readonly LineFacts[];
  events: PackedEvents;
}): LaidLines {
  const objects = new EventObjects(false);
  return layEach(
    facts.length,
    events.first[facts.length] ?? 0,
    (i) => packedEvidence(facts[i]!, events, i, day, objects),
    dayNumber(day),
  );
}

type SomeReading = Required<ReadingEvent>;

/** Events of one line as objects, which serve the next line again: hundreds of thousands of lines go by in a night. */
export class EventObjects {
  private readonly events: EvidenceEvent[] = [];
  private readonly readings: SomeReading[] = [];
  private readonly withIds: boolean;

  /** @param withIds Ids take the longest to write; without them they are all alike. */
  constructor(withIds = true) {
    this.withIds = withIds;
  }

  take(packed: PackedEvents, from: number, end: number): readonly EvidenceEvent[] {
    const { events } = this;
    events.length = 0;
    let readings = 0;
    for (let e = from; e < end; e++) {
      const day = packed.day[e]!;
      const kind = EVENT_KINDS[packed.kind[e]!]!;
      if (kind === 'regime') {
        const cause = REGIME_CAUSES[packed.changeCause[e]!];
        events.push(cause === undefined ? { kind, day } : { kind, day, cause });
        continue;
      }
      if (kind === 'clean') {
        events.push({ kind, day });
        continue;
      }
      const id = this.withIds ? eventId(packed, e) : '';
      const cause = packed.plugCause[e] === NONE ? undefined : PLUG_CAUSES[packed.plugCause[e]!];
      if (cause !== undefined)
        events.push({ kind: 'plugged', day, cause, id, confirmed: packed.confirmed[e] === 1 });
      else if (isReading(packed, e)) events.push(this.reading(readings++, packed, e, day, id));
    }
    return events;
  }

  private reading(k: number, packed: PackedEvents, e: number, day: number, id: string): SomeReading {
    let reading = this.readings[k];
    if (reading === undefined) {
      reading = blankReading();
      this.readings.push(reading);
    }
    reading.day = day;
    reading.id = id;
    reading.occlusion = packed.occlusion[e]!;
    reading.sd = packed.standardError[e]!;
    reading.bound = BOUNDS[packed.bound[e]!]!;
    reading.method = METHODS[packed.method[e]!]!;
    reading.phase = PHASES[packed.phase[e]!]!;
    reading.confirmed = packed.confirmed[e] === 1;
    reading.called = packed.called[e] === 1;
    return reading;
  }
}

const isReading = ({ occlusion, standardError, bound, method, phase }: PackedEvents, e: number): boolean =>
  !Number.isNaN(occlusion[e]! + standardError[e]!) &&
  bound[e] !== NONE &&
  method[e] !== NONE &&
  phase[e] !== NONE;

const blankReading = (): SomeReading => ({
  kind: 'reading',
  // Not whole, so that these fields hold doubles from the first line on.
  day: 0.5,
  occlusion: 0.5,
  sd: 0.5,
  bound: 'exact',
  method: 'camera',
  phase: 'before_cleaning',
  id: '',
  confirmed: false,
  agreed: false,
  called: false,
});
