import { DIMENSIONS, type DimensionName } from '../domain/units/quantity.js';

/** Of each column that carries its unit in its name: that dimension. */
const MEASURED: Readonly<Record<string, DimensionName>> = {
  inside_diameter_mm: 'bore',
  length_m: 'length',
  distance_m: 'length',
  ferrous_iron_mg_l: 'concentration',
};

/** By column and unit: how many of the column's own unit one of that unit is. */
export const UNITS_OF_COLUMNS: Readonly<Record<string, Readonly<Record<string, number>>>> =
  Object.fromEntries(
    Object.entries(MEASURED).map(([column, dimension]) => [column, DIMENSIONS[dimension].units]),
  );
