import { GRAVITY_MPS2 } from './darcyWeisbach.js';

export const FITTING_KINDS = ['swing_check', 'elbow_90', 'elbow_90_long', 'elbow_45', 'gate_valve'] as const;
export type Fitting = (typeof FITTING_KINDS)[number];

export type FittingCount = Partial<Record<Fitting, number>>;

/** Velocity heads lost in each fitting, K. LMNO Engineering, minor loss coefficients. */
const K: Record<Fitting, number> = {
  swing_check: 2,
  elbow_90: 1.5,
  elbow_90_long: 0.7,
  elbow_45: 0.4,
  gate_valve: 0.15,
};

/** Velocity heads lost in all fittings together. */
export const fittingsK = (counts: FittingCount): number =>
  FITTING_KINDS.reduce((sum, fitting) => sum + K[fitting] * (counts[fitting] ?? 0), 0);

/** Head lost to K velocity heads, K v²/2g, metres. */
export const minorLossM = (k: number, speedMps: number, gravityMps2 = GRAVITY_MPS2): number =>
  (k * speedMps * speedMps) / (2 * gravityMps2);
