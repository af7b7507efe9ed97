import { Readable } from 'node:stream';
import { stringify } from 'csv-stringify/sync';
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

/** A whole filtered list as CSV, a thousand rows at a time. */
export function csvOfPages(
  house: House,
  table: string,
  ask: PageAsk,
  names: readonly string[],
  cells: (row: Row) => readonly unknown[],
): Readable {
  return Readable.from(linesOf());
  async function* linesOf(): AsyncGenerator<string> {
    yield csvLine(names);
    let after = ask.after;
    for (;;) {
      const rows = await house.stores.rows.page(table, { ...ask, ...(after ? { after } : {}), limit: PAGE });
      for (const row of rows) yield csvLine(cells(row));
      const last = rows.at(-1);
      if (!last || rows.length < PAGE) return;
      after = { value: last[ask.near ? 'distance_km' : ask.sort.column], id: String(last['id']) };
    }
  }
}
