import type { Finding } from './finding.js';
import { ARRIVE_AND_LEAVE_MINUTES } from './siteMinutes.js';

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

/** Tap of a house through a garden hose, 4 to 6 gpm (Univ. extension figures, 2nd hand): 5 gpm. */
export const HOUSE_TAP_LPS = 0.315;

/**
 * Water of a job from tap and tank: the tank gives what the tap does not.
 *
 * @param tapMinutes How long the tap runs: while the jet does; longer where a tank on the truck takes it between passes.
 */
export function waterPlan(neededL: number, tapMinutes: number, supply: WaterSupply): WaterPlan {
  const fromTapL = Math.min(neededL, supply.tapLps * tapMinutes * 60);
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

/** What a visit takes out of the truck's tank, of a full one where it needs more, and the minutes to fetch the rest. */
export interface TankWater {
  litres: number;
  fetchMinutes: number;
}

/** To a hydrant or the depot and back, filling included. Common practice, no source. */
const FETCH_MINUTES = 45;

/**
 * The tank's part of a visit's water: with a tap on the site, what the tap does not give while the crew works. A tap
 * nobody knows of is none.
 *
 * @param minutes  Of the whole visit, to arrive and leave included.
 * @param largestL The largest tank that goes out; null: none is counted.
 */
export function tankWater(
  neededL: number,
  minutes: number,
  tap: unknown,
  largestL: number | null,
): TankWater {
  const tapMinutes = tap === 'yes' ? Math.max(0, minutes - ARRIVE_AND_LEAVE_MINUTES) : 0;
  const supply = { tankL: largestL ?? 0, tapLps: HOUSE_TAP_LPS };
  const { fromTankL, refills } = waterPlan(neededL, tapMinutes, supply);
  return { litres: Math.min(fromTankL, largestL || Infinity), fetchMinutes: refills * FETCH_MINUTES };
}
