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

const isDimension = (name: string): name is DimensionName => Object.hasOwn(DIMENSIONS, name);

/** The dimension a unit measures; a bore is a length. Null for a unit nobody here uses. */
function dimensionOf(unit: string): DimensionName | null {
  for (const name of Object.keys(DIMENSIONS)) {
    if (isDimension(name) && Object.hasOwn(DIMENSIONS[name].units, unit)) return name;
  }
  return null;
}

function factor(dimension: DimensionName, unit: string): number {
  const units: Record<string, number> = DIMENSIONS[dimension].units;
  const found = Object.hasOwn(units, unit) ? units[unit] : undefined;
  if (found !== undefined) return found;
  const other = dimensionOf(unit);
  const what = other === null ? `${unit} is not a unit known here` : `${unit} is a unit of ${other}`;
  throw new RangeError(`${what}; a ${dimension} is wanted, in ${unitsOf(dimension).join(', ')}`);
}

/**
 * A quantity in the one unit its dimension is stored in (lengths m, bores mm, L, L/s, kPa, m/s, N, W, fall over
 * length, mg/L).
 *
 * @throws {RangeError} When the unit belongs to another dimension, naming the units that would be right, or
 *   when the value is no number.
 */
export function toStored(quantity: Quantity, dimension: DimensionName): number {
  if (!Number.isFinite(quantity.value)) throw new RangeError(`not a number: ${quantity.value}`);
  return quantity.value * factor(dimension, quantity.unit);
}

/** A stored value in one unit, unrounded. @throws {RangeError} When the unit belongs to another dimension. */
export const inUnit = (value: number, dimension: DimensionName, unit: string): number =>
  value / factor(dimension, unit);

/** A number as a sentence shows it: four digits, none of a conversion's noise. */
export const shortNumber = (value: number): number => Number(value.toPrecision(4));

/** A stored value in the usual unit of a system, without the noise of the last digits. */
export function fromStored(value: number, dimension: DimensionName, system: UnitSystem): Quantity {
  const unit = DIMENSIONS[dimension][system];
  return { value: Number((value / factor(dimension, unit)).toPrecision(9)), unit };
}
