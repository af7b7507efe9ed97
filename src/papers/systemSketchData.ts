import type { UnitSystem } from '../domain/units/quantity.js';
import type { LineKind, Material } from '../domain/words.js';

export interface SketchedPoint {
  kind: string;
  /** How to find it again. */
  place: string;
  /** From the line's upstream end, metres; null: nobody knows. */
  atM: number | null;
  unconfirmed: boolean;
}

export interface SketchedLine {
  name: string;
  kind: LineKind;
  material: Material;
  boreMm: number | null;
  lengthM: number | null;
  /** What it drains to: the system's pit, another line by name, an outlet in words; null: nobody knows. */
  drainsTo: { to: 'pit' } | { to: 'line'; name: string } | { to: 'outlet'; words: string } | null;
  isDischarge: boolean;
  unconfirmed: boolean;
  points: readonly SketchedPoint[];
}

/** A system as a crew must know it: its pit, what feeds it, its discharge, and where one can get in. */
export interface SystemSketch {
  name: string;
  address: string;
  units: UnitSystem;
  pit: {
    place: string | null;
    depthMm: number | null;
    diameterMm: number | null;
    points: readonly SketchedPoint[];
  } | null;
  lines: readonly SketchedLine[];
}
