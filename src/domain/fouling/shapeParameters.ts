import { USUAL_LOG_RATE } from './traits.js';

/** What all lines of a base share, beside the growth law; searched weekly. */
export interface ShapeParameters {
  /** Variance per unit of growth, in transformed level: bursts of deposit. */
  growthNoise: number;
  /** Variance per day, in transformed level: what comes and goes whatever the rate. */
  timeNoise: number;
  /** Season of the rate: 1 + cos·cos(wt) + sin·sin(wt). */
  seasonCos: number;
  seasonSin: number;
  /** Occlusion a clean leaves behind. */
  residualMean: number;
  residualSd: number;
  /** Mean days after a clean before deposit takes hold again. */
  lagDays: number;
  /** Share of readings that are slips. */
  grossShare: number;
  /** True standard errors over those known beforehand: camera, look at the outlet, all others. */
  cameraFactor: number;
  lookFactor: number;
  otherFactor: number;
  /** How much worse a look is where there is little to see, over what is known beforehand. */
  lookBlindness: number;
  /** Unannounced changes of regime. */
  changesPerYear: number;
  /** Occlusion of an old line on its first day in the book. */
  unknownMean: number;
  unknownSd: number;
  /** Log rates over the base, by its priors: their middle and standard deviation. Told by pooling, not searched. */
  usualLogRate: number;
  usualSpread: number;
}

/** Common practice of such estimators, no source; each is the middle of a weak prior. */
export const START_PARAMETERS: ShapeParameters = {
  growthNoise: 0.02,
  timeNoise: 4e-6,
  seasonCos: 0,
  seasonSin: 0,
  residualMean: 0.04,
  residualSd: 0.03,
  lagDays: 4,
  grossShare: 0.03,
  cameraFactor: 1,
  lookFactor: 1,
  otherFactor: 1,
  lookBlindness: 1,
  changesPerYear: 0.03,
  unknownMean: 0.35,
  unknownSd: 0.3,
  usualLogRate: USUAL_LOG_RATE,
  usualSpread: 1.1,
};

export const YEAR_DAYS = 365.25;
export const YEAR_ANGLE = (2 * Math.PI) / YEAR_DAYS;

/** Days between two moments, weighted with the season; between two days of the year it may run ahead or behind. */
export function seasonDays(
  parameters: Pick<ShapeParameters, 'seasonCos' | 'seasonSin'>,
  fromDay: number,
  toDay: number,
): number {
  const a = YEAR_ANGLE * fromDay;
  const b = YEAR_ANGLE * toDay;
  return (
    toDay -
    fromDay +
    (parameters.seasonCos * (Math.sin(b) - Math.sin(a)) -
      parameters.seasonSin * (Math.cos(b) - Math.cos(a))) /
      YEAR_ANGLE
  );
}
