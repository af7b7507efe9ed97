import { z } from 'zod';
import type { Row } from '../../actions/ports.js';
import { OF_THE_ROW, RECORD_KINDS, type RecordKind } from '../../actions/records/recordKinds.js';
import type { RecordColumn, RecordTable } from '../../actions/records/recordStore.js';
import { DIMENSIONS } from '../../domain/units/quantity.js';
import { textOfCell } from '../../files/csvFormula.js';
import { csvCell } from '../csvAnswer.js';
import type { Field } from '../fields.js';
import { columnOf } from '../resource.js';
import { RESOURCES } from '../resources/all.js';
import { otherSettings } from '../settingRoutes.js';
import { day, instant } from '../shapes.js';

/** A column of a file: its name in the words of the API, and how a cell is written and read. */
export interface FileColumn {
  name: string;
  column: string;
  /** Whether a new row cannot be without. */
  isNeeded: boolean;
  /** A text that may be empty, where an empty cell is not nothing. */
  isKept: boolean;
  cellOf: (value: unknown) => string;
  /** @throws {CellFault} */
  valueOf: (cell: string) => unknown;
}

/** What is wrong with a cell, and what would be right. */
export class CellFault extends Error {
  readonly remedy: string;

  constructor(problem: string, remedy: string) {
    super(problem);
    this.remedy = remedy;
  }
}

const CARRIED = new Set(RECORD_KINDS.map(({ table }) => table));
const camel = (column: string): string =>
  column.replace(/_([a-z0-9])/g, (_, sign: string) => sign.toUpperCase());

/** The columns of a kind's file: those of its table, named and shaped as the API names and shapes them. */
export function fileColumns({ table, without = [] }: RecordKind, { columns }: RecordTable): FileColumn[] {
  const fields = Object.entries(RESOURCES.find((each) => each.table === table)?.fields ?? {});
  return columns
    .filter(
      ({ name, refersTo }) =>
        !OF_THE_ROW.has(name) && !without.includes(name) && (refersTo === null || CARRIED.has(refersTo)),
    )
    .map((column) => {
      const [name, field] = fields.find(([name, field]) => columnOf(name, field) === column.name) ?? [
        camel(column.name),
        null,
      ];
      const codec = codecOf(table, column, field);
      return {
        name,
        column: column.name,
        isNeeded: !column.isNullable && !column.hasDefault,
        isKept: column.type === 'text' && !column.isNullable && !column.hasDefault,
        ...codec,
      };
    });
}

/** A row as the file says it. */
export const saidRow = ({ insteadOf = {} }: RecordKind, row: Row): Row => {
  const said = { ...row };
  for (const [column, words] of Object.entries(insteadOf))
    said[column] = words[String(row[column])] ?? row[column];
  return said;
};

interface Codec {
  cellOf: FileColumn['cellOf'];
  valueOf: FileColumn['valueOf'];
}

function codecOf(table: string, column: RecordColumn, field: Field | null): Codec {
  if (field?.dimension !== undefined) return quantityCodec(field.dimension, field.view);
  const shape = column.type === 'json' && field?.toColumn ? null : (field?.view ?? null);
  const check = (value: unknown): unknown => {
    const faults = [
      ...(column.type === 'text' && column.words !== null && !column.words.includes(String(value))
        ? [`is none of ${column.words.join(', ')}`]
        : []),
      ...(shape === null ? [] : faultsOf(shape, value)),
      ...(table === 'setting' && column.name === 'name'
        ? faultsOf(otherSettings, { [String(value)]: undefined })
        : []),
    ];
    if (faults.length > 0) throw new CellFault(faults[0] ?? '', 'as the API answers it');
    return value;
  };
  const asJson = (value: unknown): string =>
    value === null || value === undefined ? '' : JSON.stringify(value);
  return {
    cellOf: column.type === 'json' ? asJson : csvCell,
    valueOf: (cell) => check(TYPED[column.type](cell)),
  };
}

const faultsOf = (shape: z.ZodType, value: unknown): string[] =>
  shape.safeParse(value).error?.issues.map(({ message }) => message) ?? [];

/** A quantity in the very unit it is kept in, so that it comes back to the last digit; any unit of its kind is read. */
function quantityCodec(dimension: NonNullable<Field['dimension']>, shape: z.ZodType): Codec {
  const { stored, units } = DIMENSIONS[dimension] as { stored: string; units: Record<string, number> };
  const remedy = `a number, a blank and a unit, as 4 ${stored}; units are ${Object.keys(units).join(', ')}`;
  return {
    cellOf: (value) => (value === null || value === undefined ? '' : `${String(value)} ${stored}`),
    valueOf: (cell) => {
      const [, value = '', unit = ''] = /^(-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?) (\S+)$/.exec(cell) ?? [];
      const factor = units[unit];
      if (factor === undefined || faultsOf(shape, { value: Number(value), unit }).length > 0)
        throw new CellFault('is no such quantity', remedy);
      return Number(value) * factor;
    },
  };
}

const shaped =
  (shape: z.ZodType, problem: string, remedy: string) =>
  (cell: string): unknown => {
    const got = shape.safeParse(cell);
    if (!got.success) throw new CellFault(problem, remedy);
    return got.data;
  };
const DECIMAL = /^-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?$/;
const listOf =
  (item: z.ZodType, remedy: string) =>
  (cell: string): unknown => {
    const value = jsonIn(cell);
    if (!z.array(item).safeParse(value).success) throw new CellFault('is no such list', remedy);
    return value;
  };

function jsonIn(cell: string): unknown {
  try {
    return JSON.parse(cell) as unknown;
  } catch {
    throw new CellFault('is no JSON', 'a list, object, text in quotes or number as JSON');
  }
}

const TYPED: Record<RecordColumn['type'], (cell: string) => unknown> = {
  uuid: shaped(z.uuid(), 'is no id', 'a UUID'),
  text: textOfCell,
  integer: (cell) => {
    if (!/^-?\d+$/.test(cell)) throw new CellFault('is no whole number', 'digits');
    return Number(cell);
  },
  number: (cell) => {
    if (!DECIMAL.test(cell)) throw new CellFault('is no number', 'digits with a point');
    return Number(cell);
  },
  boolean: (cell) => {
    if (cell !== 'true' && cell !== 'false')
      throw new CellFault('is neither true nor false', 'true or false');
    return cell === 'true';
  },
  day: shaped(day, 'is no day', 'a day as 2026-03-04'),
  instant: shaped(instant, 'is no instant', 'an instant as 2026-03-04T14:30:00Z'),
  json: jsonIn,
  texts: listOf(z.string(), 'texts as JSON, as ["a","b"]'),
  uuids: listOf(z.uuid(), 'ids as JSON'),
  numbers: listOf(z.number(), 'numbers as JSON'),
};
