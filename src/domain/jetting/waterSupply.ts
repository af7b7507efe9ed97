import type { Finding } from './finding.js';

/** Where a crew takes its water. */
export interface WaterSupply {
  tankL: number;
  /** Tap of the house; 0 where there is none. */
  tapLps: number;
}

export interface WaterPlan {
  fromTankL: number;
  fromTapL: number;
  /** Tanks to fetch beyond the first. */
  refills: number;
  finding: Finding | null;
}

/** Water of a job from tap and tank: the tap runs while the jet does, the tank gives the rest. */
export function waterPlan(neededL: number, jetMinutes: number, supply: WaterSupply): WaterPlan {
  const fromTapL = Math.min(neededL, supply.tapLps * jetMinutes * 60);
  const fromTankL = neededL - fromTapL;
  const refills =
    fromTankL <= 0 ? 0 : supply.tankL > 0 ? Math.max(0, Math.ceil(fromTankL / supply.tankL) - 1) : 0;
  if (fromTankL > 0 && supply.tankL <= 0) {
    const text = `the tap gives ${Math.round(fromTapL)} L of ${Math.round(neededL)} L and there is no tank`;
    return {
      fromTankL,
      fromTapL,
      refills,
      finding: { code: 'water-short', facts: { neededL, fromTapL }, text },
    };
  }
  if (refills === 0) return { fromTankL, fromTapL, refills, finding: null };
  const text = `${Math.round(fromTankL)} L from a tank of ${Math.round(supply.tankL)} L: ${refills} refill(s)`;
  return {
    fromTankL,
    fromTapL,
    refills,
    finding: { code: 'refill-needed', facts: { fromTankL, tankL: supply.tankL, refills }, text },
  };
}
