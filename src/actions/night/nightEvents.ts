import type { BusinessZone } from '../../domain/calendar/businessZone.js';
import {
  BOUNDS,
  type Bound,
  DEPOSITS,
  type Deposit,
  METHODS,
  type Method,
  PHASES,
  type Phase,
  PLUG_CAUSES,
  type PlugCause,
  REGIME_CAUSES,
  type RegimeCause,
} from '../../domain/words.js';
import type { Row } from '../ports.js';

/** What happened to a line, as the night reads it; in order of time, a clean between the readings around it. */
export interface NightEvent {
  kind: 'reading' | 'clean' | 'regime';
  /** A doubted reading that a person found right. */
  confirmed: boolean;
  /** The visit was ordered because somebody called or found the line plugged. */
  called: boolean;
  id: string;
  /** Milliseconds since 1970. */
  atMs: number;
  /** Day number by the business's own clock, with the part of the day. */
  day: number;
  /** Null for cleans, changes of regime, and lines found plugged. */
  occlusion: number | null;
  standardError: number | null;
  bound: Bound | null;
  method: Method | null;
  phase: Phase | null;
  plugCause: PlugCause | null;
  deposit: Deposit | null;
  /** Of a change of regime. */
  changeCause: RegimeCause | null;
}

export const EVENT_KINDS = ['reading', 'clean', 'regime'] as const;

/** Where a word stands in its list; NONE for none. */
export const NONE = 255;
export const EVENT_WORDS = {
  bound: BOUNDS,
  method: METHODS,
  phase: PHASES,
  plugCause: PLUG_CAUSES,
  deposit: DEPOSITS,
  changeCause: REGIME_CAUSES,
} as const;

/**
 * Events of many lines side by side, small enough to keep a whole base's: those of line i stand from `first[i]`
 * to `first[i + 1]`. Numbers that are not there are NaN.
 */
export interface PackedEvents {
  first: Int32Array;
  kind: Uint8Array;
  /** 0 or 1. */
  confirmed: Uint8Array;
  called: Uint8Array;
  /** 16 bytes each. */
  id: Uint8Array;
  atMs: Float64Array;
  day: Float64Array;
  occlusion: Float64Array;
  standardError: Float64Array;
  bound: Uint8Array;
  method: Uint8Array;
  phase: Uint8Array;
  plugCause: Uint8Array;
  deposit: Uint8Array;
  changeCause: Uint8Array;
}

export function emptyEvents(lines: number, events: number): PackedEvents {
  const words = (): Uint8Array => new Uint8Array(events).fill(NONE);
  return {
    first: new Int32Array(lines + 1),
    kind: new Uint8Array(events),
    confirmed: new Uint8Array(events),
    called: new Uint8Array(events),
    id: new Uint8Array(16 * events),
    atMs: new Float64Array(events),
    day: new Float64Array(events),
    occlusion: new Float64Array(events).fill(Number.NaN),
    standardError: new Float64Array(events).fill(Number.NaN),
    bound: words(),
    method: words(),
    phase: words(),
    plugCause: words(),
    deposit: words(),
    changeCause: words(),
  };
}

/** The events of line i of a block. */
export function eventsOf(packed: PackedEvents, i: number): NightEvent[] {
  const events: NightEvent[] = [];
  for (let e = packed.first[i] ?? 0; e < (packed.first[i + 1] ?? 0); e++) {
    events.push({
      kind: EVENT_KINDS[packed.kind[e] ?? 0] ?? 'reading',
      confirmed: packed.confirmed[e] === 1,
      called: packed.called[e] === 1,
      id: eventId(packed, e),
      atMs: packed.atMs[e] ?? 0,
      day: packed.day[e] ?? 0,
      occlusion: numberOrNull(packed.occlusion[e]),
      standardError: numberOrNull(packed.standardError[e]),
      bound: BOUNDS[packed.bound[e] ?? NONE] ?? null,
      method: METHODS[packed.method[e] ?? NONE] ?? null,
      phase: PHASES[packed.phase[e] ?? NONE] ?? null,
      plugCause: PLUG_CAUSES[packed.plugCause[e] ?? NONE] ?? null,
      deposit: DEPOSITS[packed.deposit[e] ?? NONE] ?? null,
      changeCause: REGIME_CAUSES[packed.changeCause[e] ?? NONE] ?? null,
    });
  }
  return events;
}

const numberOrNull = (value: number | undefined): number | null =>
  value === undefined || Number.isNaN(value) ? null : value;

export const eventId = ({ id }: PackedEvents, e: number): string => uuidText(id, 16 * e);

function uuidText(bytes: Uint8Array, at: number): string {
  let to = 0;
  for (let i = 0; i < 16; i++) {
    if (i === 4 || i === 6 || i === 8 || i === 10) written[to++] = HYPHEN;
    const byte = bytes[at + i]!;
    written[to++] = HEX[byte >> 4]!;
    written[to++] = HEX[byte & 15]!;
  }
  return written.toString('latin1');
}

const HEX = Buffer.from('0123456789abcdef');
const HYPHEN = 45;
const written = Buffer.alloc(36);

const DAY_MS = 86_400_000;

/** Day number of an event by the business's clock. A told change has a day and no hour: midnight UTC stands for it. */
export function eventDay(kind: NightEvent['kind'], atMs: number, zone: BusinessZone): number {
  return kind === 'regime' ? atMs / DAY_MS : zone.dayNumberAt(atMs);
}

/** The same from rows of a query. */
export function eventsFromRows(rows: readonly Row[], zone: BusinessZone): NightEvent[] {
  const number = (value: unknown): number | null =>
    value === null || value === undefined ? null : Number(value);
  return rows.map((row) => ({
    kind: row['kind'] as NightEvent['kind'],
    confirmed: row['confirmed'] === true,
    called: row['called'] === true,
    id: String(row['id']),
    atMs: Date.parse(String(row['at'])),
    day: eventDay(row['kind'] as NightEvent['kind'], Date.parse(String(row['at'])), zone),
    occlusion: number(row['occlusion']),
    standardError: number(row['standard_error']),
    bound: row['bound'] as Bound | null,
    method: row['method'] as Method | null,
    phase: row['phase'] as Phase | null,
    plugCause: row['plug_cause'] as PlugCause | null,
    deposit: row['deposit'] as Deposit | null,
    changeCause: row['change_cause'] as RegimeCause | null,
  }));
}
