import { z } from 'zod';
import { isWithin, MEASURES, type MeasureName, measureInWords } from '../domain/units/measures.js';
import {
  type DimensionName,
  fromStored,
  type Quantity,
  toStored,
  type UnitSystem,
  unitsOf,
} from '../domain/units/quantity.js';
import { day, id, instant, oneLine, phoneLine, text, timeOfDay, wanting } from './shapes.js';

/** One field of a resource: how it comes in, how it goes out, and the column that keeps it. */
export interface Field {
  column?: string;
  schema: z.ZodType;
  view: z.ZodType;
  /** Takes what was taken once and is on record, where the schema takes less. */
  asItWas?: z.ZodType;
  required?: boolean;
  nullable?: boolean;
  /** Set when created, never changed after. */
  fixed?: boolean;
  /** Only ever answered, never taken. */
  readOnly?: boolean;
  /** Of a quantity: what it measures. */
  dimension?: DimensionName;
  /** A day of something that has happened: not after today. */
  past?: boolean;
  toColumn?: (value: unknown) => unknown;
  toView?: (value: unknown, units: UnitSystem) => unknown;
}

type Options = Pick<Field, 'column' | 'required' | 'fixed' | 'readOnly' | 'past'>;

const optional = (schema: z.ZodType, options: Options): Field => ({
  schema,
  view: options.required ? schema : schema.nullable(),
  nullable: !options.required,
  ...options,
});

/** A field that always has a value; the table has its default. */
const always = (schema: z.ZodType, options: Options): Field => ({ schema, view: schema, ...options });

/** Text of one line, as a name or a number; what is on record is answered as it is. */
export const line = (max: number, options: Options = {}): Field => lineOf(oneLine(max), max, options);
export const phone = (max: number, options: Options = {}): Field => lineOf(phoneLine(max), max, options);

function lineOf(schema: z.ZodType, max: number, options: Options): Field {
  const asItWas = text(max);
  return { ...optional(schema, options), view: options.required ? asItWas : asItWas.nullable(), asItWas };
}

/** Text of any number of lines. */
export const typed = (max: number, options: Options = {}): Field => optional(text(max), options);
/** One mail address, nothing a mail server would read as two; what books brought in is answered as it is. */
export const mailAddress = (options: Options = {}): Field => ({
  ...optional(z.email('is not one mail address; write it as office@example.org').max(200), options),
  view: z.string().nullable(),
});
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

const quantitySchemas = new Map<string, z.ZodType>();

function kept(id: string, make: () => z.ZodType): z.ZodType {
  const known = quantitySchemas.get(id) ?? make();
  quantitySchemas.set(id, known);
  return known;
}

const named = (name: string): string => `${name[0]?.toUpperCase()}${name.slice(1)}`;

function valueAndUnit(dimension: DimensionName) {
  const units = unitsOf(dimension) as [string, ...string[]];
  const example = JSON.stringify({ value: 4, unit: units.at(-1) });
  return z.strictObject(
    {
      value: z.number(),
      unit: z.enum(units, `is not a unit of ${dimension}; use ${units.join(', ')}`),
    },
    { error: wanting(`a quantity as ${example}`) },
  );
}

/** The `{ value, unit }` schema of a dimension as it is answered, named once in the document. */
export const quantitySchema = (dimension: DimensionName): z.ZodType =>
  kept(named(dimension), () =>
    valueAndUnit(dimension).meta({
      id: named(dimension),
      description: `A ${dimension} in ${unitsOf(dimension).join(', ')}.`,
      example: { value: 4, unit: unitsOf(dimension).at(-1) },
    }),
  );

/** The same as it is taken: within what the measured thing can be, whatever unit it comes in. */
export const measured = (name: MeasureName): z.ZodType => {
  const { dimension } = MEASURES[name];
  return kept(`Given${named(name)}`, () =>
    valueAndUnit(dimension)
      .refine((quantity) => isWithin(toStored(quantity, dimension), name), `is not ${measureInWords(name)}`)
      .meta({
        id: `Given${named(name)}`,
        description: `A ${dimension} in ${unitsOf(dimension).join(', ')}: ${measureInWords(name)}.`,
        example: { value: 4, unit: unitsOf(dimension).at(-1) },
      }),
  );
};

/** A measured quantity, kept in the column's own unit. */
export function quantity(name: MeasureName, column: string, options: Options = {}): Field {
  const { dimension } = MEASURES[name];
  const view = quantitySchema(dimension);
  return {
    ...optional(measured(name), options),
    view: options.required ? view : view.nullable(),
    column,
    dimension,
    toColumn: (value) => toStored(value as Quantity, dimension),
    toView: (value, units) => (typeof value === 'number' ? fromStored(value, dimension, units) : null),
  };
}
