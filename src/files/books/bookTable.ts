import type { z } from 'zod';
import type { Ending, OnProgress } from '../csvBytes.js';
import type { FaultList } from '../csvFault.js';
import { FileFault } from '../csvFileFault.js';
import { csvRecords } from '../csvRecords.js';
import type { CsvSource } from '../csvSource.js';

/** A column of a table: its header, and how a cell becomes a value. An empty cell never reaches `cell`. */
export interface Column {
  header: string;
  /** The column must be there. */
  needed?: boolean;
  /** An empty cell is a fault; else it becomes `empty`. */
  filled?: boolean;
  empty: unknown;
  cell: z.ZodType;
  remedy: string;
}

export type Columns = Record<string, Column>;

/**
 * Reads a table row by row; each good row goes to `take` with its line. Bad rows become faults, and reading
 * goes on so that one run shows them all.
 */
export async function readTable(
  source: CsvSource,
  columns: Columns,
  faults: FaultList,
  take: (row: Record<string, unknown>, line: number) => void,
  onProgress?: OnProgress,
): Promise<void> {
  const ending: Ending = { endsWithLineEnd: true };
  let header: string[] | null = null;
  let last: { line: number; cells: string[] } | null = null;
  const handle = (record: { line: number; cells: string[] }, names: string[], isLast: boolean) => {
    if (record.cells.length !== names.length) {
      const cut = isLast && record.cells.length < names.length && !ending.endsWithLineEnd;
      faults.add({
        file: source.name,
        line: record.line,
        column: null,
        value: record.cells.join(','),
        problem: cut
          ? 'the file ends in the middle of a row'
          : `${record.cells.length} cells where the header has ${names.length}`,
        remedy: cut
          ? 'export the file again; nothing of it was taken'
          : 'give every row as many cells as the header',
      });
      return;
    }
    const row = rowOf(source.name, record, names, columns, faults);
    if (row) take(row, record.line);
  };
  try {
    for await (const record of csvRecords(source, ending, onProgress)) {
      if (header === null) {
        header = record.cells.map((cell) => cell.trim().toLowerCase());
        if (!headerIsGood(source.name, header, columns, faults)) return;
        continue;
      }
      if (last) handle(last, header, false);
      last = record;
    }
    if (last && header) handle(last, header, true);
    if (header === null) {
      faults.add({
        file: source.name,
        line: null,
        column: null,
        value: null,
        problem: 'the file is empty',
        remedy: `begin with the header ${Object.values(columns)
          .map((c) => c.header)
          .join(',')}`,
      });
    }
  } catch (error) {
    if (!(error instanceof FileFault)) throw error;
    faults.add(error.fault);
  }
}

function headerIsGood(file: string, header: string[], columns: Columns, faults: FaultList): boolean {
  const before = faults.total;
  for (const { header: name, needed } of Object.values(columns)) {
    if (needed && !header.includes(name)) {
      faults.add({
        file,
        line: 1,
        column: name,
        value: null,
        problem: `the column is missing; found ${header.join(', ')}`,
        remedy: `add the column ${name}, or rename the one that holds it`,
      });
    }
  }
  for (const [i, name] of header.entries()) {
    if (name !== '' && header.indexOf(name) !== i) {
      faults.add({
        file,
        line: 1,
        column: name,
        value: null,
        problem: 'the column occurs twice',
        remedy: 'keep one of them',
      });
    }
    if (!Object.values(columns).some((column) => column.header === name)) {
      faults.remark(file, 1, `column ${name} is not known and was passed over`);
    }
  }
  return faults.total === before;
}

function rowOf(
  file: string,
  record: { line: number; cells: string[] },
  header: string[],
  columns: Columns,
  faults: FaultList,
): Record<string, unknown> | null {
  const row: Record<string, unknown> = {};
  let good = true;
  for (const [key, column] of Object.entries(columns)) {
    const at = header.indexOf(column.header);
    const text = at < 0 ? '' : (record.cells[at] ?? '').trim();
    if (text === '') {
      row[key] = column.empty;
      if (column.filled) {
        faults.add({
          file,
          line: record.line,
          column: column.header,
          value: '',
          problem: 'the cell is empty',
          remedy: column.remedy,
        });
        good = false;
      }
      continue;
    }
    const parsed = column.cell.safeParse(text);
    if (parsed.success) {
      row[key] = parsed.data;
    } else {
      faults.add({
        file,
        line: record.line,
        column: column.header,
        value: text,
        problem: parsed.error.issues[0]?.message ?? 'not valid',
        remedy: column.remedy,
      });
      good = false;
    }
  }
  return good ? row : null;
}
