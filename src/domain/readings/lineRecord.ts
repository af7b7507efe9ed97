import type { Roughness } from '../hydraulics/pipes.js';
import { type PumpPoint, pumpCurveFault } from '../hydraulics/pumpCurve.js';
import type { Deposit, LineKind, Material, Phase } from '../words.js';
import type { Reading, ReadingFacts } from './reading.js';

/** A line with all it was made of over time; days are day numbers, fractions of a day allowed. */
export interface LineRecord {
  kind: LineKind;
  lengthM: number | null;
  /** Height the pump lifts the water, for a discharge. */
  liftM: number | null;
  deposit: Deposit;
  sections: readonly SectionRecord[];
  /** Main pumps of the pit that this line empties; none for other lines. */
  pumps: readonly PumpRecord[];
}

export interface SectionRecord {
  id: string;
  fromM: number | null;
  toM: number | null;
  material: Material;
  boreMm: number | null;
  roughness: Roughness;
  slope: number | null;
  installedDay: number | null;
  removedDay: number | null;
}

export interface PumpRecord {
  curve: readonly PumpPoint[] | null;
  installedDay: number | null;
  removedDay: number | null;
}

/** An earlier reading that may serve as what the pump moves through the clean line. */
export interface EarlierReading {
  day: number;
  phase: Phase;
  reading: Reading;
}

interface Lasting {
  installedDay: number | null;
  removedDay: number | null;
}

const wasThere = ({ installedDay, removedDay }: Lasting, day: number): boolean =>
  (installedDay === null || installedDay <= day) && (removedDay === null || removedDay > day);

const runOf = ({ fromM, toM }: SectionRecord): number =>
  fromM === null || toM === null ? Number.POSITIVE_INFINITY : toM - fromM;

/** The longest section there on a day; where books know none for that day, the longest of those still there. */
export function sectionAt(sections: readonly SectionRecord[], day: number): SectionRecord | null {
  const then = sections.filter((section) => wasThere(section, day));
  const known = then.length > 0 ? then : sections.filter(({ removedDay }) => removedDay === null);
  const longestFirst = [...known].sort((a, b) => runOf(b) - runOf(a) || (a.id < b.id ? -1 : 1));
  return longestFirst[0] ?? null;
}

/**
 * What is known of a line for converting a reading taken on a day: the pipe and pump of that day, and what that
 * pump moved through the line after its last clean before it.
 *
 * @param earlier Readings in force, in any order; later ones are left aside.
 */
export function readingFactsAt(
  line: LineRecord,
  day: number,
  deposit: Deposit,
  earlier: readonly EarlierReading[],
): ReadingFacts {
  const section = sectionAt(line.sections, day);
  const pump = line.pumps.find((each) => wasThere(each, day)) ?? null;
  const cleaned = [...earlier]
    .filter(
      (each) =>
        each.phase === 'after_cleaning' && each.day < day && each.day >= (pump?.installedDay ?? -Infinity),
    )
    .sort((a, b) => b.day - a.day);
  const curve = pump?.curve ?? null;
  return {
    kind: line.kind,
    material: section?.material ?? 'unknown',
    boreMm: section?.boreMm ?? null,
    slope: section?.slope ?? null,
    manningN: section?.roughness.n ?? null,
    hazenWilliamsC: section?.roughness.c ?? null,
    lengthM: line.lengthM,
    liftM: line.liftM,
    pumpCurve: curve !== null && pumpCurveFault(curve) === null ? curve : null,
    deposit: deposit === 'unknown' ? line.deposit : deposit,
    cleanDrawdownMmPerMinute: firstOf(cleaned, movedMmPerMinute),
    cleanFlowLps: firstOf(cleaned, filledLps),
  };
}

function firstOf(
  readings: readonly EarlierReading[],
  of: (reading: Reading) => number | null,
): number | null {
  for (const { reading } of readings) {
    const value = of(reading);
    if (value !== null && value > 0) return value;
  }
  return null;
}

/** What a draw-down says the pump moves: the fall with the inflow added back. */
function movedMmPerMinute({ method, riseMmPerMinute, fallMmPerMinute }: Reading): number | null {
  if (method !== 'pit_drawdown' || riseMmPerMinute === undefined || fallMmPerMinute === undefined)
    return null;
  return riseMmPerMinute + fallMmPerMinute;
}

function filledLps({ method, volumeL, seconds }: Reading): number | null {
  if (method !== 'timed_fill' || volumeL === undefined || seconds === undefined) return null;
  return volumeL / seconds;
}
