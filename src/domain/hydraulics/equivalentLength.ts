import type { NominalIn } from './pipes.js';

/**
 * Elbows as straight pipe of the same loss, for tables and codes that count fittings so: added to a line's length
 * in place of velocity heads.
 */

/** Bores of straight pipe. International Residential Code 2018, table A.2.2. */
const ELBOW_BORES = { elbow_90: 30, elbow_45: 14 };

export const elbowLengthM = (elbow: keyof typeof ELBOW_BORES, boreMm: number): number =>
  (ELBOW_BORES[elbow] * boreMm) / 1000;

/** Feet of PVC pipe a PVC 90° elbow stands for, by nominal size. PVC equivalent length table. */
const PVC_ELBOW_FT: Record<NominalIn, number> = { '1-1/4': 3.8, '1-1/2': 4, '2': 5.7, '3': 7.9, '4': 12 };

/** @throws {RangeError} For a size the table does not have. */
export function pvcElbowLengthM(nominal: NominalIn): number {
  const feet = Object.hasOwn(PVC_ELBOW_FT, nominal) ? PVC_ELBOW_FT[nominal] : undefined;
  if (feet === undefined) {
    throw new RangeError(`no PVC elbow of ${nominal} in; use ${Object.keys(PVC_ELBOW_FT).join(', ')}`);
  }
  return feet * 0.3048;
}
