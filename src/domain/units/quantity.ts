/**
 * Quantities as people give them, and the one unit each dimension is stored in. Factors are exact by
 * definition (international inch and foot, US liquid gallon 231 in³, pound-force 4.4482216152605 N).
 */
export interface Quantity {
  value: number;
  unit: string;
}

export type UnitSystem = 'metric' | 'us';

interface Dimension {
  /** How many of the stored unit one of this unit is. */
  units: Record<string, number>;
  stored: string;
  metric: string;
  us: string;
}

const INCH_M = 0.0254;
const FOOT_M = 0.3048;
const GALLON_L = 3.785411784;
const POUND_N = 4.4482216152605;
const PSI_KPA = POUND_N / INCH_M ** 2 / 1000;

export const DIMENSIONS = {
  length: {
    stored: 'm',
    metric: 'm',
    us: 'ft',
    units: { mm: 0.001, cm: 0.01, m: 1, in: INCH_M, ft: FOOT_M },
  },
  bore: {
    stored: 'mm',
    metric: 'mm',
    us: 'in',
    units: { mm: 1, cm: 10, m: 1000, in: INCH_M * 1000, ft: FOOT_M * 1000 },
  },
  volume: { stored: 'L', metric: 'L', us: 'gal', units: { L: 1, gal: GALLON_L } },
  flow: {
    stored: 'L/s',
    metric: 'L/min',
    us: 'gpm',
    units: { 'L/s': 1, 'L/min': 1 / 60, gpm: GALLON_L / 60 },
  },
  pressure: { stored: 'kPa', metric: 'bar', us: 'psi', units: { kPa: 1, bar: 100, psi: PSI_KPA } },
  speed: { stored: 'm/s', metric: 'm/s', us: 'ft/s', units: { 'm/s': 1, 'ft/s': FOOT_M } },
  force: { stored: 'N', metric: 'N', us: 'lbf', units: { N: 1, lbf: POUND_N } },
  power: { stored: 'W', metric: 'W', us: 'hp', units: { W: 1, hp: 550 * FOOT_M * POUND_N } },
  slope: { stored: 'm/m', metric: '%', us: 'in/ft', units: { 'm/m': 1, '%': 0.01, 'in/ft': 1 / 12 } },
  concentration: { stored: 'mg/L', metric: 'mg/L', us: 'mg/L', units: { 'mg/L': 1 } },
} as const satisfies Record<string, Dimension>;

export type DimensionName = keyof typeof DIMENSIONS;

export const unitsOf = (dimension: DimensionName): string[] => Object.keys(DIMENSIONS[dimension].units);

function factor(dimension: DimensionName, unit: string): number {
  const units: Record<string, number> = DIMENSIONS[dimension].units;
  const found = Object.hasOwn(units, unit) ? units[unit] : undefined;
  if (found === undefined) {
    throw new RangeError(`${unit} is not a unit of ${dimension}; use ${unitsOf(dimension).join(', ')}`);
  }
  return found;
}

/** @throws {RangeError} When the unit belongs to another dimension; names the units that would be right. */
export function toStored(quantity: Quantity, dimension: DimensionName): number {
  return quantity.value * factor(dimension, quantity.unit);
}

/** A stored value in the usual unit of a system, without the noise of the last digits. */
export function fromStored(value: number, dimension: DimensionName, system: UnitSystem): Quantity {
  const unit = DIMENSIONS[dimension][system];
  return { value: Number((value / factor(dimension, unit)).toPrecision(9)), unit };
}
