import { z } from 'zod';
import {
  type DimensionName,
  fromStored,
  type Quantity,
  toStored,
  type UnitSystem,
  unitsOf,
} from '../domain/units/quantity.js';
import { day, id, instant, text, timeOfDay } from './shapes.js';

/** One field of a resource: how it comes in, how it goes out, and the column that keeps it. */
export interface Field {
  column?: string;
  schema: z.ZodType;
  view: z.ZodType;
  required?: boolean;
  nullable?: boolean;
  /** Set when created, never changed after. */
  fixed?: boolean;
  /** Only ever answered, never taken. */
  readOnly?: boolean;
  toColumn?: (value: unknown) => unknown;
  toView?: (value: unknown, units: UnitSystem) => unknown;
}

type Options = Pick<Field, 'column' | 'required' | 'fixed' | 'readOnly'>;

const optional = (schema: z.ZodType, options: Options): Field => ({
  schema,
  view: options.required ? schema : schema.nullable(),
  nullable: !options.required,
  ...options,
});

/** A field that always has a value; the table has its default. */
const always = (schema: z.ZodType, options: Options): Field => ({ schema, view: schema, ...options });

export const typed = (max: number, options: Options = {}): Field => optional(text(max), options);
export const ref = (options: Options = {}): Field => optional(id, options);
export const dayField = (options: Options = {}): Field => optional(day, options);
export const instantField = (options: Options = {}): Field => optional(instant, options);
export const time = (options: Options = {}): Field => optional(timeOfDay, options);
export const number = (min: number, max: number, options: Options = {}): Field =>
  optional(z.number().min(min).max(max), options);
export const integer = (min: number, max: number, options: Options = {}): Field =>
  optional(z.number().int().min(min).max(max), options);
export const yesNo = (options: Options = {}): Field => optional(z.boolean(), options);
export const flag = (options: Options = {}): Field => always(z.boolean(), options);
export const word = (list: readonly [string, ...string[]], options: Options = {}): Field =>
  always(z.enum(list), options);
export const maybeWord = (list: readonly [string, ...string[]], options: Options = {}): Field =>
  optional(z.enum(list), options);
export const list = (item: z.ZodType, max: number, options: Options = {}): Field =>
  always(z.array(item).max(max), options);
export const object = (schema: z.ZodType, options: Options = {}): Field => optional(schema, options);

const quantitySchemas = new Map<DimensionName, z.ZodType>();

/** The `{ value, unit }` schema of a dimension, named once in the document. */
export function quantitySchema(dimension: DimensionName): z.ZodType {
  const known = quantitySchemas.get(dimension);
  if (known) return known;
  const units = unitsOf(dimension) as [string, ...string[]];
  const schema = z
    .strictObject({
      value: z.number().min(-1e9).max(1e9),
      unit: z.enum(units, `is not a unit of ${dimension}; use ${units.join(', ')}`),
    })
    .meta({
      id: `${dimension[0]?.toUpperCase()}${dimension.slice(1)}`,
      description: `A ${dimension} in ${units.join(', ')}.`,
      example: { value: 4, unit: units.at(-1) },
    });
  quantitySchemas.set(dimension, schema);
  return schema;
}

/** A quantity above zero in any unit of its dimension, kept in the column's own unit. */
export function quantity(dimension: DimensionName, column: string, options: Options = {}): Field {
  const schema = quantitySchema(dimension);
  return {
    ...optional(schema, options),
    column,
    toColumn: (value) => toStored(value as Quantity, dimension),
    toView: (value, units) => (typeof value === 'number' ? fromStored(value, dimension, units) : null),
  };
}
