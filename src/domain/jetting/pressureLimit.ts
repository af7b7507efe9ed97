import type { Condition, Material } from '../words.js';

export interface PressureLimit {
  kpa: number;
  /** Where the pressure counts. */
  at: 'pump' | 'nozzle';
  because: string;
  source: string;
}

/** What decides how hard a pipe may be jetted. */
export interface JettedPipe {
  material: Material;
  condition: Condition;
  perforated: boolean | null;
}

const psi = (value: number): number => value * 6.894757293168;

const CODE = 'WRc, Sewer Jetting Code of Practice, 2nd ed. 2005, table 1';
const WORN = 'Morris and Cant, Sewer Jetting, PPCA 1998';
const FIELD = 'VND (Dutch drainage contractors), drain jetters: 10 to 15 bar at the nozzle';
const COMMON = 'common practice, no source';

/** Brick: the weakest material the code names stands for what nobody knows. */
const WEAKEST_NAMED = { kpa: psi(1500), source: CODE };

const SOUND: Record<Material, { kpa: number; source: string }> = {
  concrete: { kpa: psi(5000), source: CODE },
  clay: { kpa: psi(5000), source: CODE },
  pvc: { kpa: psi(2600), source: CODE },
  corrugated_hdpe: { kpa: psi(2600), source: CODE },
  cast_iron: { kpa: psi(2600), source: COMMON },
  other: WEAKEST_NAMED,
  unknown: WEAKEST_NAMED,
};
const WORN_KPA = psi(1900);
const WEAK_KPA = psi(1200);
/** Slots and sock: water through them washes the soil in behind. */
export const FIELD_DRAIN_KPA = { usualFrom: 1000, usualTo: 1500 } as const;
/** Least water of field drain jetting: less does not carry the deposit out. VND, drain jetters. */
export const FIELD_DRAIN_LEAST_LPS = 70 / 60;

/**
 * The highest pressure a pipe may be jetted with: the lowest of what its material, its condition and its slots
 * allow. Unknown condition counts as weak.
 */
export const pressureLimit = (pipe: JettedPipe): PressureLimit => lowest(allLimits(pipe));

/** The lowest limit of each place a pressure counts at: a plan keeps them all. */
export function pressureLimits(pipe: JettedPipe): PressureLimit[] {
  const all = allLimits(pipe);
  return (['pump', 'nozzle'] as const).flatMap((place) => {
    const there = all.filter(({ at }) => at === place);
    return there.length === 0 ? [] : [lowest(there)];
  });
}

const lowest = (limits: readonly PressureLimit[]): PressureLimit =>
  limits.reduce((least, next) => (next.kpa < least.kpa ? next : least));

const allLimits = (pipe: JettedPipe): PressureLimit[] => [
  { ...SOUND[pipe.material], at: 'pump', because: `sound ${pipe.material}` },
  ...byCondition(pipe.condition),
  ...bySlots(pipe),
];

function byCondition(condition: Condition): PressureLimit[] {
  switch (condition) {
    case 'sound':
      return [];
    case 'worn':
      return [{ kpa: WORN_KPA, at: 'pump', because: 'partly deteriorated', source: WORN }];
    case 'weak':
      return [{ kpa: WEAK_KPA, at: 'pump', because: 'badly deteriorated', source: WORN }];
    case 'unknown':
      return [{ kpa: WEAK_KPA, at: 'pump', because: 'condition unknown counts as weak', source: WORN }];
    default:
      return condition satisfies never;
  }
}

/** A pipe counts as slotted unless somebody knows better: a footing drain is, whatever it is made of. */
function bySlots({ material, perforated }: JettedPipe): PressureLimit[] {
  if (perforated === false) return [];
  if (material === 'corrugated_hdpe') {
    const because = perforated ? 'slotted drain' : 'corrugated pipe counts as slotted';
    return [{ kpa: FIELD_DRAIN_KPA.usualTo, at: 'nozzle', because, source: FIELD }];
  }
  const because = perforated ? 'perforated pipe' : 'not known to be unperforated, counts as perforated';
  return [{ kpa: WEAK_KPA, at: 'pump', because, source: COMMON }];
}
