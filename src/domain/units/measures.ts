import { DIMENSIONS, type DimensionName, inUnit } from './quantity.js';

interface Measure {
  dimension: DimensionName;
  /** Least and most, in the unit the dimension is stored in. */
  min: number;
  max: number;
}

/**
 * What each measured thing can be at all, at every door: outside of it the number is a slip (common practice, no
 * source). In m, mm, L, L/s, kPa, W, fall over length, mg/L.
 */
export const MEASURES = {
  lineLength: { dimension: 'length', min: 0.1, max: 2000 },
  alongLine: { dimension: 'length', min: 0, max: 2000 },
  lift: { dimension: 'length', min: 0, max: 100 },
  reach: { dimension: 'length', min: 0.1, max: 1000 },
  trench: { dimension: 'length', min: 0, max: 100 },
  bore: { dimension: 'bore', min: 10, max: 2000 },
  depositDepth: { dimension: 'bore', min: 0, max: 2000 },
  pitSize: { dimension: 'bore', min: 50, max: 20_000 },
  pitLevel: { dimension: 'bore', min: 0, max: 20_000 },
  levelChange: { dimension: 'bore', min: -5000, max: 5000 },
  handDig: { dimension: 'bore', min: 0, max: 5000 },
  slope: { dimension: 'slope', min: 0, max: 1 },
  iron: { dimension: 'concentration', min: 0, max: 1000 },
  vessel: { dimension: 'volume', min: 0.01, max: 1000 },
  water: { dimension: 'volume', min: 0, max: 100_000 },
  flow: { dimension: 'flow', min: 0, max: 100 },
  pressure: { dimension: 'pressure', min: 0, max: 300_000 },
  power: { dimension: 'power', min: 0, max: 100_000 },
} as const satisfies Record<string, Measure>;

export type MeasureName = keyof typeof MEASURES;

/** Least and most, in the stored unit. */
export const boundsOf = (name: MeasureName): { min: number; max: number } => {
  const { min, max } = MEASURES[name];
  return { min, max };
};

/** Whether a stored value can be that thing; a little is let pass for rounding between units. */
export function isWithin(value: number, name: MeasureName): boolean {
  const { min, max } = MEASURES[name];
  const slack = 1e-9 * Math.max(Math.abs(min), Math.abs(max));
  return value >= min - slack && value <= max + slack;
}

/** `0.1 to 2000 m (0.328 to 6560 ft)`. */
export function measureInWords(name: MeasureName): string {
  const { dimension, min, max } = MEASURES[name];
  const { stored, us } = DIMENSIONS[dimension];
  const inUs = (value: number) => Number(inUnit(value, dimension, us).toPrecision(3));
  const metric = `${min} to ${max} ${stored}`;
  return us === (stored as string) ? metric : `${metric} (${inUs(min)} to ${inUs(max)} ${us})`;
}
