import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { DueRule } from '../domain/fouling/dueDateReason.js';
import type { LinePace } from '../domain/fouling/linePace.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { Bound, LineKind, Material, Method, Phase, PlugCause } from '../domain/words.js';

/** What the service believes of one line, as one picture; shares are of the bore's area, 0 to 1. */
export interface TrendChartData {
  siteName: string;
  lineName: string;
  kind: LineKind;
  material: Material;
  /** Null is unknown. */
  boreMm: number | null;
  units: UnitSystem;
  today: IsoDate;
  readings: readonly TrendReading[];
  cleans: readonly TrendClean[];
  /** One curve per stretch between cleans, each in order of days. */
  past: readonly (readonly TrendPoint[])[];
  /** From today to the due date and beyond, in order of days. */
  future: readonly TrendPoint[];
  limits: { action: number; plug: number };
  due: { on: IsoDate; rule: DueRule } | null;
  /** Found plugged that day, and nobody opened it since; null: it runs. */
  pluggedSince: IsoDate | null;
  pace: LinePace;
}

export interface TrendReading {
  on: IsoDate;
  phase: Phase;
  /** Null where nobody measured: found plugged. */
  method: Method | null;
  occlusion: number;
  standardError: number;
  bound: Bound;
  /** Set when the line was found plugged: by what. */
  plugged: PlugCause | null;
  /** How far the estimator trusts it, 0 to 1; under a half counts as doubtful. */
  weight: number;
  /** By a person, after it was doubted. */
  confirmed: boolean;
}

export interface TrendClean {
  on: IsoDate;
  /** Whether a reading was taken after it. */
  measured: boolean;
}

export interface TrendPoint {
  on: IsoDate;
  q10: number;
  q50: number;
  q90: number;
}

/** Places in the field: days across, share of the bore's area up. */
export interface TrendPlaces {
  x: (day: IsoDate) => number;
  y: (share: number) => number;
}
