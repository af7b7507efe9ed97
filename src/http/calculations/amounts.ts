import { z } from 'zod';
import {
  type DimensionName,
  fromStored,
  type Quantity,
  toStored,
  type UnitSystem,
  unitsOf,
} from '../../domain/units/quantity.js';
import { wanting } from '../shapes.js';

/** The most that anything at a house comes to, in the stored unit; more is a slip of the unit. */
const MOST: Record<DimensionName, number> = {
  length: 10_000,
  bore: 5_000,
  volume: 1_000_000,
  flow: 10_000,
  pressure: 200_000,
  speed: 1_000,
  force: 1_000_000,
  power: 1_000_000,
  slope: 1,
  concentration: 100_000,
};

/** Less than this in any unit is a slip, and next to nothing divides badly. */
const LEAST = 1e-4;

const schemas = new Map<string, z.ZodType>();

function amountSchema(dimension: DimensionName, name: 'Positive' | 'NotNegative' | 'Answered'): z.ZodType {
  const id = `${name}${dimension[0]?.toUpperCase()}${dimension.slice(1)}`;
  const known = schemas.get(id);
  if (known) return known;
  const units = unitsOf(dimension) as [string, ...string[]];
  const unit = z.enum(units, `is not a unit of ${dimension}; use ${units.join(', ')}`);
  const example = dimension === 'slope' ? { value: 1, unit: '%' } : { value: 4, unit: units.at(-1) };
  const most = MOST[dimension];
  const { unit: shown } = fromStored(most, dimension, 'metric');
  const schema = (
    name === 'Answered'
      ? z.object({ value: z.number(), unit })
      : z
          .strictObject(
            {
              value: z
                .number()
                .min(name === 'Positive' ? LEAST : 0)
                .max(1e6)
                .refine((value) => value === 0 || value >= LEAST, `is not 0, or ${LEAST} and more`),
              unit,
            },
            { error: wanting(`a quantity as ${JSON.stringify(example)}`) },
          )
          .refine(
            (given) => toStored(given, dimension) <= most,
            `is more than any ${dimension} here: at most ${fromStored(most, dimension, 'metric').value} ${shown}`,
          )
  ).meta({
    id,
    description:
      name === 'Answered'
        ? `A ${dimension} in ${units.join(', ')}.`
        : `A ${dimension} ${name === 'Positive' ? 'above zero' : 'of zero or more'} in ${units.join(', ')}.`,
    example,
  });
  schemas.set(id, schema);
  return schema;
}

/** A quantity above zero. */
export const amount = (dimension: DimensionName): z.ZodType => amountSchema(dimension, 'Positive');
/** A quantity of zero or more. */
export const amountOrNone = (dimension: DimensionName): z.ZodType => amountSchema(dimension, 'NotNegative');
/** A quantity as it is answered. */
export const answered = (dimension: DimensionName): z.ZodType => amountSchema(dimension, 'Answered');

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
