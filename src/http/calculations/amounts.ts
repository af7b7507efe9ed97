import { z } from 'zod';
import {
  type DimensionName,
  fromStored,
  type Quantity,
  toStored,
  type UnitSystem,
  unitsOf,
} from '../../domain/units/quantity.js';
import { quantitySchema } from '../fields.js';

const schemas = new Map<string, z.ZodType>();

function amountSchema(dimension: DimensionName, name: 'Positive' | 'NotNegative'): z.ZodType {
  const id = `${name}${dimension[0]?.toUpperCase()}${dimension.slice(1)}`;
  const known = schemas.get(id);
  if (known) return known;
  const units = unitsOf(dimension) as [string, ...string[]];
  const schema = z
    .strictObject({
      // Smaller or larger ones are slips of the keyboard; the formulas stay finite between.
      value: z
        .number()
        .min(name === 'Positive' ? 1e-4 : 0)
        .max(1e6),
      unit: z.enum(units, `is not a unit of ${dimension}; use ${units.join(', ')}`),
    })
    .meta({
      id,
      description: `A ${dimension} ${name === 'Positive' ? 'above zero' : 'of zero or more'} in ${units.join(', ')}.`,
      example: { value: 4, unit: units.at(-1) },
    });
  schemas.set(id, schema);
  return schema;
}

/** A quantity above zero. */
export const amount = (dimension: DimensionName): z.ZodType => amountSchema(dimension, 'Positive');
/** A quantity of zero or more. */
export const amountOrNone = (dimension: DimensionName): z.ZodType => amountSchema(dimension, 'NotNegative');
/** A quantity as it is answered. */
export const answered = (dimension: DimensionName): z.ZodType => quantitySchema(dimension);

/** A quantity out of a body, in the one unit its dimension is stored in. */
export const stored = (value: unknown, dimension: DimensionName): number =>
  toStored(value as Quantity, dimension);

/** The same of a quantity that may be missing. */
export const storedOrNull = (value: unknown, dimension: DimensionName): number | null =>
  value === undefined || value === null ? null : stored(value, dimension);

export const out = (value: number, dimension: DimensionName, units: UnitSystem): Quantity =>
  fromStored(value, dimension, units);
export const outOrNull = (
  value: number | null,
  dimension: DimensionName,
  units: UnitSystem,
): Quantity | null => (value === null ? null : fromStored(value, dimension, units));
