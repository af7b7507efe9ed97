import { boreAreaM2 } from './manning.js';
import { blockedShareOfDepth, depthShareOfBlocked, hydraulicDiameterShare } from './segment.js';

/** A pumped line runs full and coats all round; a gravity line settles its deposit on the bottom. */
export type DepositShape = 'even_coat' | 'flat_deposit';

/** What a deposit leaves open of a bore. */
export interface OpenSection {
  areaM2: number;
  hydraulicDiameterMm: number;
}

/** @throws {RangeError} When the occlusion is not from 0 to below 1. */
export function openSection(boreMm: number, occlusion: number, shape: DepositShape): OpenSection {
  if (!(occlusion >= 0 && occlusion < 1))
    throw new RangeError(`occlusion outside 0 to below 1: ${occlusion}`);
  if (shape === 'even_coat') {
    const openMm = boreMm * Math.sqrt(1 - occlusion);
    return { areaM2: boreAreaM2(openMm), hydraulicDiameterMm: openMm };
  }
  const depthShare = depthShareOfBlocked(occlusion);
  return {
    areaM2: boreAreaM2(boreMm) * (1 - blockedShareOfDepth(depthShare)),
    hydraulicDiameterMm: boreMm * hydraulicDiameterShare(depthShare),
  };
}
