import { boreVolumeL } from '../hydraulics/pipes.js';

/** Loosened deposit takes up more room than it did in the line. Common practice, no source. */
const LOOSENED_SHARE = 1.5;

/** Share of the bore that a clean leaves behind. Common practice, no source. */
export const USUAL_RESIDUE = 0.04;

/** Deposit a clean brings out of a line, loosened, litres. */
export function sludgeOutL(
  boreMm: number,
  lengthM: number,
  occlusionBefore: number,
  occlusionAfter: number,
): number {
  const removed = Math.max(0, occlusionBefore - occlusionAfter);
  return boreVolumeL(boreMm, lengthM) * removed * LOOSENED_SHARE;
}
