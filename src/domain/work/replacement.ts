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

/** What a crew said of a run it replaced; what it left out is as planned. */
export interface SaidRun {
  fromM: number | null;
  toM: number | null;
  /** The line from end to end, without measures. */
  whole: boolean;
  material: Material | null;
  boreMm: number | null;
  product: string | null;
  nominal: string | null;
}

/** What the plan of a dig has of its run; a dig nobody planned has nothing. */
export interface PlannedRun {
  fromM?: number | null;
  toM?: number | null;
  newMaterial?: Material;
  newBoreMm?: number;
  newProduct?: string;
  newNominal?: string;
}

export interface WentIn extends Replaced {
  product: string | null;
  nominal: string | null;
}

/**
 * What went into the ground: as said, and where nothing was said as planned. A line counts as new from end to end only
 * where somebody says so.
 *
 * @returns Names of what is neither said nor planned, where something is missing.
 */
export function wentIn(
  said: SaidRun,
  plan: PlannedRun,
): { run: WentIn } | { missing: ('from' | 'to' | 'material' | 'bore')[] } {
  const asPlanned = said.material === null && said.boreMm === null;
  const material = said.material ?? plan.newMaterial ?? null;
  const boreMm = said.boreMm ?? plan.newBoreMm ?? null;
  const [fromM, toM] =
    said.whole || said.fromM !== null || said.toM !== null
      ? [said.fromM, said.toM]
      : [plan.fromM ?? null, plan.toM ?? null];
  const missing: ('from' | 'to' | 'material' | 'bore')[] = [];
  if (!said.whole && fromM === null) missing.push('from');
  if (!said.whole && toM === null) missing.push('to');
  if (material === null) missing.push('material');
  if (boreMm === null) missing.push('bore');
  if (material === null || boreMm === null || missing.length > 0) return { missing };
  return {
    run: {
      fromM,
      toM,
      material,
      boreMm,
      product: said.product ?? (asPlanned ? (plan.newProduct ?? null) : null),
      nominal: said.nominal ?? (asPlanned ? (plan.newNominal ?? null) : null),
    },
  };
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
