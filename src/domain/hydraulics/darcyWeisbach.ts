/** Standard gravity, m/s² (exact by definition). */
export const GRAVITY_MPS2 = 9.80665;

/** Kinematic viscosity of water at 10 °C, m²/s; ground water is cold. */
export const GROUND_WATER_VISCOSITY_M2S = 1.306e-6;

/** Below it flow is laminar. */
const LAMINAR_REYNOLDS = 2000;
const TURBULENT_REYNOLDS = 4000;

export const reynolds = (
  speedMps: number,
  boreMm: number,
  viscosityM2S = GROUND_WATER_VISCOSITY_M2S,
): number => (speedMps * boreMm) / 1000 / viscosityM2S;

/**
 * Darcy friction factor of turbulent flow after Colebrook: 1/√f = −2 log10(k/3.7 + 2.51/(Re √f)).
 *
 * @param relativeRoughness k, roughness height over bore.
 * @see C. F. Colebrook (1939), J. Inst. Civil Engineers 11, 133–156.
 */
export function colebrook(reynoldsNumber: number, relativeRoughness: number): number {
  if (!(reynoldsNumber > 0 && relativeRoughness >= 0)) {
    throw new RangeError(`Reynolds number above zero, roughness zero or more: ${reynoldsNumber}`);
  }
  let root = 1 / Math.sqrt(swameeJain(reynoldsNumber, relativeRoughness));
  for (let i = 0; i < 40; i++) {
    root = -2 * Math.log10(relativeRoughness / 3.7 + (2.51 * root) / reynoldsNumber);
  }
  return 1 / (root * root);
}

/** The same in one step, within about 1 %. @see Swamee & Jain (1976), J. Hydraulics Division ASCE 102(5). */
export function swameeJain(reynoldsNumber: number, relativeRoughness: number): number {
  return 0.25 / Math.log10(relativeRoughness / 3.7 + 5.74 / reynoldsNumber ** 0.9) ** 2;
}

/** Laminar 64/Re, turbulent Colebrook, and a straight line between the two where flow is neither. */
export function frictionFactor(reynoldsNumber: number, relativeRoughness: number): number {
  if (reynoldsNumber <= LAMINAR_REYNOLDS) return 64 / reynoldsNumber;
  if (reynoldsNumber >= TURBULENT_REYNOLDS) return colebrook(reynoldsNumber, relativeRoughness);
  const share = (reynoldsNumber - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS);
  return (1 - share) * (64 / LAMINAR_REYNOLDS) + share * colebrook(TURBULENT_REYNOLDS, relativeRoughness);
}

/** Head lost over a length, f (L/D) v²/2g, metres. */
export function darcyLossM(
  frictionFactor: number,
  lengthM: number,
  boreMm: number,
  speedMps: number,
  gravityMps2 = GRAVITY_MPS2,
): number {
  return (frictionFactor * (lengthM / (boreMm / 1000)) * speedMps * speedMps) / (2 * gravityMps2);
}
