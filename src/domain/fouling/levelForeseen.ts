import { daysLost } from './cleanLag.js';
import { levelToY, yToLevel } from './growthShape.js';
import { lawOf } from './lineRead.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';

/** As much of a fit as tells how a level moves: one law of growth with its share of the belief. */
export interface ForeseenLaw {
  k1: number;
  k2: number;
  weight: number;
  /** Without the share of slips where it is not known. */
  parameters: Pick<ShapeParameters, 'seasonCos' | 'seasonSin' | 'lagDays'> &
    Partial<Pick<ShapeParameters, 'grossShare'>>;
}

/** By the yearly pace alone: what is left where the laws of a forecast were not kept. */
const STRAIGHT: readonly ForeseenLaw[] = [
  { k1: 0, k2: 0, weight: 1, parameters: { seasonCos: 0, seasonSin: 0, lagDays: 0 } },
];

/**
 * Level that a forecast expected on a later day, by the laws it was made under: their growth, season and lag after a clean.
 *
 * @param from    Level and day of the forecast; `ratePerDay` is the mean speed from empty to half full over a year, in
 *                fractions of the bore; `cleanDay` the last clean before it, null where none is on record.
 * @param laws    Null where they are not known any more.
 * @param day     Day number, not before that of the forecast.
 * @returns       Fraction of the bore, at most 1.
 */
export function levelForeseen(
  from: { asOfDay: number; occlusion: number; ratePerDay: number; cleanDay: number | null },
  laws: readonly ForeseenLaw[] | null,
  day: number,
): number {
  const { asOfDay, occlusion, ratePerDay, cleanDay } = from;
  const age = cleanDay === null ? Infinity : asOfDay - cleanDay;
  const known = laws === null || laws.length === 0 ? STRAIGHT : laws;
  let level = 0;
  let weights = 0;
  for (const { k1, k2, weight, parameters } of known) {
    const law = lawOf(k1, k2);
    const lost = daysLost(parameters.lagDays, age, day - asOfDay);
    const days = Math.max(0, seasonDays(parameters, asOfDay, day) - lost);
    level += weight * yToLevel(law, levelToY(law, occlusion) + ratePerDay * days);
    weights += weight;
  }
  return Math.min(1, level / weights);
}
