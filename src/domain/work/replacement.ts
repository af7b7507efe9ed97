import type { Material } from '../words.js';

/** A stretch of a line that is there now; metres from the upstream end, null: the whole line. */
export interface PresentSection {
  id: string;
  fromM: number | null;
  toM: number | null;
}

export interface Replaced {
  /** Null: the whole line. */
  fromM: number | null;
  toM: number | null;
  material: Material;
  boreMm: number;
}

export interface SectionChanges {
  /** Taken out whole. */
  removed: string[];
  /** Cut: the old row keeps what is left of it upstream, the rest becomes rows of the same make. */
  cut: { id: string; keeps: Stretch; rest: (Stretch & { removed: boolean })[] }[];
  added: Stretch | { fromM: null; toM: null };
  whole: boolean;
}

interface Stretch {
  fromM: number;
  toM: number;
}

/** Ends this near the line's ends count as the whole line. Common practice, no source. */
const END_TOLERANCE_M = 0.5;

/** A run of a line as numbers; null where its length is needed and unknown. */
const stretchOf = (
  { fromM, toM }: { fromM: number | null; toM: number | null },
  lengthM: number | null,
): Stretch | null => {
  if (fromM !== null && toM !== null) return { fromM, toM };
  return lengthM === null ? null : { fromM: 0, toM: lengthM };
};

/**
 * What a replaced run makes of a line's sections. The whole line opens a new epoch, a part of it is a clean and a
 * known change of regime.
 *
 * @returns Null when the line's length is needed to cut its sections and nobody knows it.
 */
export function sectionChanges(
  present: readonly PresentSection[],
  replaced: Replaced,
  lengthM: number | null,
): SectionChanges | null {
  const run = stretchOf(replaced, lengthM);
  const whole =
    replaced.fromM === null ||
    replaced.toM === null ||
    (lengthM !== null && replaced.fromM <= END_TOLERANCE_M && replaced.toM >= lengthM - END_TOLERANCE_M);
  if (whole)
    return {
      removed: present.map(({ id }) => id),
      cut: [],
      added: run ?? { fromM: null, toM: null },
      whole: true,
    };
  if (run === null) return null;
  const changes: SectionChanges = { removed: [], cut: [], added: run, whole: false };
  for (const section of present) {
    const old = stretchOf(section, lengthM);
    if (old === null) return null;
    if (old.toM <= run.fromM || old.fromM >= run.toM) continue;
    if (old.fromM >= run.fromM && old.toM <= run.toM) changes.removed.push(section.id);
    else changes.cut.push(cutOf(section.id, old, run));
  }
  return changes;
}

function cutOf(id: string, old: Stretch, run: Stretch): SectionChanges['cut'][number] {
  const left = old.fromM < run.fromM ? { fromM: old.fromM, toM: run.fromM } : null;
  const right = old.toM > run.toM ? { fromM: run.toM, toM: old.toM } : null;
  const middle = {
    fromM: Math.max(old.fromM, run.fromM),
    toM: Math.min(old.toM, run.toM),
    removed: true,
  };
  if (left !== null)
    return { id, keeps: left, rest: [middle, ...(right ? [{ ...right, removed: false }] : [])] };
  if (right === null) throw new RangeError('a section inside the replaced run is removed, not cut');
  return { id, keeps: right, rest: [middle] };
}
