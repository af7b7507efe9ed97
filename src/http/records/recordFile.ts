import type { Readable } from 'node:stream';
import { parse } from 'csv-parse';
import { stringify } from 'csv-stringify/sync';
import type { Row } from '../../actions/ports.js';
import type { BroughtKind } from '../../actions/records/bringRecords.js';
import type { RecordKind } from '../../actions/records/recordKinds.js';
import type { RecordTable } from '../../actions/records/recordStore.js';
import type { FaultList } from '../../files/csvFault.js';
import { CellFault, type FileColumn, fileColumns, saidRow } from './recordColumns.js';

export const recordHeader = (kind: RecordKind, table: RecordTable): string =>
  stringify([fileColumns(kind, table).map(({ name }) => name)]);

/** Rows as lines of the kind's file. */
export function recordLines(kind: RecordKind, table: RecordTable, rows: readonly Row[]): string {
  const columns = fileColumns(kind, table);
  return stringify(
    rows.map((row) => {
      const said = saidRow(kind, row);
      return columns.map(({ column, cellOf }) => cellOf(inUtc(said[column])));
    }),
  );
}

const inUtc = (value: unknown): unknown =>
  typeof value === 'string' && /^\d{4}-\d\d-\d\dT[\d:.]+\+00:00$/.test(value)
    ? value.replace('+00:00', 'Z')
    : value;

/**
 * Reads one kind's file: every fault is named by line and column, and a row with one is left out.
 *
 * @param file Name of the file, as faults say it.
 */
export async function readRecordFile(
  kind: RecordKind,
  table: RecordTable,
  file: string,
  text: Readable,
  faults: FaultList,
): Promise<BroughtKind> {
  const columns = fileColumns(kind, table);
  const brought: BroughtKind = { name: kind.name, table: kind.table, rows: [] };
  const parser = text.pipe(parse({ bom: true, info: true, skip_empty_lines: true }));
  text.on('error', (error) => parser.destroy(error));
  let header: (FileColumn | null)[] | null = null;
  let line = 1;
  const seen = new Map<string, number>();
  try {
    for await (const { record, info } of parser as AsyncIterable<{
      record: string[];
      info: { lines: number };
    }>) {
      if (header === null) header = headerOf(record, columns, file, faults);
      else {
        const row = rowOf(record, header, { file, line, faults });
        const key = String(row?.['id'] ?? '');
        const first = key === '' ? undefined : seen.get(key);
        if (first !== undefined)
          faults.add({
            file,
            line,
            column: 'id',
            value: key,
            problem: `doubled: line ${first} has it too`,
            remedy: 'leave one of them out',
          });
        if (key !== '') seen.set(key, line);
        if (row !== null) brought.rows.push({ line, row });
      }
      line = info.lines + 1;
    }
  } catch (error) {
    if (!(error instanceof Error) || !('code' in error) || !String(error.code).startsWith('CSV_'))
      throw error;
    faults.add({
      file,
      line,
      column: null,
      value: null,
      problem: error.message,
      remedy: 'CSV as the export writes it, every row as long as the first',
    });
  }
  if (header === null)
    faults.add({
      file,
      line: 1,
      column: null,
      value: null,
      problem: 'the file is empty',
      remedy: 'at least the line that names the columns',
    });
  return brought;
}

function headerOf(
  names: readonly string[],
  columns: readonly FileColumn[],
  file: string,
  faults: FaultList,
): (FileColumn | null)[] {
  const known = columns.map(({ name }) => name);
  const header = names.map((name, i) => {
    const column = columns.find((each) => each.name === name) ?? null;
    if (column === null || names.indexOf(name) < i)
      faults.add({
        file,
        line: 1,
        column: name,
        value: null,
        problem: column === null ? 'is no column of this file' : 'is named twice',
        remedy: column === null ? `columns are ${known.join(', ')}` : 'once',
      });
    return column;
  });
  for (const { name } of columns.filter((column) => column.isNeeded && !names.includes(column.name)))
    faults.add({
      file,
      line: 1,
      column: name,
      value: null,
      problem: 'is missing',
      remedy: 'add the column, its cells filled',
    });
  return header;
}

function rowOf(
  cells: readonly string[],
  header: readonly (FileColumn | null)[],
  { file, line, faults }: { file: string; line: number; faults: FaultList },
): Row | null {
  const row: Row = {};
  let isWhole = true;
  for (const [i, column] of header.entries()) {
    if (column === null) continue;
    const cell = cells[i] ?? '';
    try {
      if (cell !== '') row[column.column] = column.valueOf(cell);
      else if (column.isKept) row[column.column] = '';
      else if (column.isNeeded) throw new CellFault('empty', 'fill it in');
    } catch (error) {
      if (!(error instanceof CellFault)) throw error;
      isWhole = false;
      faults.add({
        file,
        line,
        column: column.name,
        value: cell,
        problem: error.message,
        remedy: error.remedy,
      });
    }
  }
  return isWhole ? row : null;
}
