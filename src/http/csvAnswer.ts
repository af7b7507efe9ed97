import { Readable } from 'node:stream';
import { stringify } from 'csv-stringify/sync';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { PageAsk, Row } from '../actions/ports.js';
import { harmlessCell } from '../files/csvFormula.js';

/** One CSV line; quantities as `4 in`, lists and objects as JSON, formulas made harmless for spreadsheets. */
export function csvLine(values: readonly unknown[]): string {
  return stringify([values.map(csvCell)]);
}

/** One cell: quantities as `4 in`, lists and objects as JSON, a text that a spreadsheet would reckon with a `'` before it. */
export function csvCell(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'object') {
    if ('value' in value && 'unit' in value) return `${String(value.value)} ${String(value.unit)}`;
    return JSON.stringify(value);
  }
  const text = String(value);
  return typeof value === 'string' ? harmlessCell(text) : text;
}

const PAGE = 1000;

/** Columns of a list's CSV, and the cells of some rows. */
export interface CsvColumns {
  names: readonly string[];
  cellsOf(rows: Row[]): Promise<readonly (readonly unknown[])[]> | readonly (readonly unknown[])[];
}

/** A whole filtered list as CSV, a thousand rows at a time. */
export function csvOfPages(
  house: House,
  table: string,
  ask: PageAsk,
  { names, cellsOf }: CsvColumns,
): Readable {
  return Readable.from(linesOf());
  async function* linesOf(): AsyncGenerator<string> {
    yield csvLine(names);
    let after = ask.after;
    for (;;) {
      const rows = await house.stores.rows.page(table, { ...ask, ...(after ? { after } : {}), limit: PAGE });
      for (const cells of await cellsOf(rows)) yield csvLine(cells);
      const last = rows.at(-1);
      if (!last || rows.length < PAGE) return;
      after = { value: last[ask.near ? 'distance_km' : ask.sort.column], id: String(last['id']) };
    }
  }
}

/**
 * Where the cells of a list's items stand, by the schema of an item: its fields, and those of an object within by both
 * names, as `occlusion.mean`. Quantities, lists and free objects are one cell.
 */
export function cellPaths(item: z.ZodType): string[][] {
  const object = bare(item);
  if (!(object instanceof z.ZodObject)) return [[]];
  const names = Object.keys(object.shape);
  if (names.length === 2 && names.includes('value') && names.includes('unit')) return [[]];
  return names.flatMap((name) => cellPaths(object.shape[name]).map((rest) => [name, ...rest]));
}

/** Without what says that it may be missing. */
function bare(schema: z.ZodType): z.ZodType {
  return schema instanceof z.ZodNullable || schema instanceof z.ZodOptional || schema instanceof z.ZodDefault
    ? bare(schema.unwrap() as z.ZodType)
    : schema;
}

/** What stands there; nothing where the way ends early. */
export const cellAt = (item: unknown, path: readonly string[]): unknown =>
  path.reduce<unknown>(
    (value, name) =>
      value === null || value === undefined ? null : (value as Record<string, unknown>)[name],
    item,
  );
