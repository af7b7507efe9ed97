import type { ColumnMap } from './bookMapping.js';
import type { Ending, OnProgress } from './csvBytes.js';
import type { FaultList } from './csvFault.js';
import { FileFault } from './csvFileFault.js';
import { textOfCell } from './csvFormula.js';
import { type Columns, type Header, readHeader } from './csvHeader.js';
import { type CsvRecord, csvRecords } from './csvRecords.js';
import type { CsvSource } from './csvSource.js';

/** The cells of one row by column name, trimmed; a column that the file does not have is the empty text. */
export type Cells = Record<string, string>;

/**
 * Calls `onRow` for each row of a file. Faults of the file's form go to `faults`.
 *
 * @returns False when the file could not be read to its end: what other files refer to may then be missing.
 */
export async function readTable(
  source: CsvSource,
  columns: Columns,
  faults: FaultList,
  onRow: (line: number, cells: Cells) => void,
  onProgress?: OnProgress,
): Promise<boolean> {
  const ending: Ending = { endsWithLineEnd: true, endsInHalf: false };
  const lastCells = new LastCells();
  const formulas = new FormulaWatch();
  let header: Header | null = null;
  let lastShort: CsvRecord | null = null;
  try {
    for await (const record of csvRecords(source, ending, onProgress)) {
      if (lastShort !== null && header !== null) addShort(source.name, lastShort, header, false, faults);
      lastShort = null;
      if (header === null) {
        const named = source.mapping?.rename(source.name, record.cells, faults) ?? record.cells;
        const { mapping } = source;
        if (mapping) faults.columnNames.set(source.name, (column) => mapping.nameOf(column));
        header = readHeader(source.name, named, columns, faults);
        if (header === null) return false;
      } else if (record.cells.every((cell) => cell.trim() === '')) {
        // Spreadsheets leave rows of commas behind.
      } else if (record.cells.length < header.length) {
        lastShort = record;
      } else if (record.cells.slice(header.length).some((cell) => cell.trim() !== '')) {
        addLong(source.name, record, header, faults);
      } else {
        formulas.look(record, header);
        lastCells.look(record, header);
        const { mapping } = source;
        const named = header;
        faults.inFileWords = mapping
          ? (fault) => mapping.inTheirWords(fault, record.cells[named.indexOf(fault.column ?? '')])
          : null;
        onRow(record.line, namedCells(record, header, columns, mapping));
        faults.inFileWords = null;
      }
    }
    if (header === null) throw emptyFile(source.name);
  } catch (error) {
    if (!(error instanceof FileFault)) throw error;
    faults.add(error.fault);
    return false;
  }
  if (lastShort !== null) addShort(source.name, lastShort, header, !ending.endsWithLineEnd, faults);
  else if (ending.endsInHalf) addHalfLineEnd(source.name, faults);
  else if (!ending.endsWithLineEnd) lastCells.report(source.name, header, faults);
  formulas.report(source.name, faults);
  return true;
}

function namedCells(record: CsvRecord, header: Header, columns: Columns, mapping?: ColumnMap): Cells {
  const cells: Cells = {};
  for (const name of columns.required) cells[name] = '';
  for (const name of columns.optional) cells[name] = '';
  for (let at = 0; at < header.length; at += 1) {
    const name = header[at];
    if (!name) continue;
    const cell = textOfCell((record.cells[at] ?? '').trim());
    cells[name] = mapping?.translate(name, cell) ?? cell;
  }
  return cells;
}

function emptyFile(file: string): FileFault {
  return new FileFault(file, null, null, 'the file is empty', 'its first row must name the columns');
}

function addShort(file: string, record: CsvRecord, header: Header, cut: boolean, faults: FaultList): void {
  const counts = `${record.cells.length} cells where the first row has ${header.length}`;
  faults.add({
    file,
    line: record.line,
    column: null,
    value: record.cells.join(','),
    problem: cut ? `the file ends in the middle of this row (${counts})` : counts,
    remedy: cut ? 'export the file again' : 'give every cell its comma, the empty ones too',
  });
}

function addLong(file: string, record: CsvRecord, header: Header, faults: FaultList): void {
  faults.add({
    file,
    line: record.line,
    column: null,
    value: record.cells.join(','),
    problem: `${record.cells.length} cells where the first row has ${header.length}`,
    remedy: 'put a cell that has a comma in it between quotes',
  });
}

function addHalfLineEnd(file: string, faults: FaultList): void {
  faults.add({
    file,
    line: null,
    column: null,
    value: null,
    problem: 'the file ends in half a line end (CR without LF): it was cut off there',
    remedy: 'export the file again; if nothing is missing, complete the last line end',
  });
}

/**
 * Watches the last column, to tell whether a file without a last line end was cut inside its last cell: the only
 * empty one among filled ones, or a figure narrower than all others, which are of one width. Else nobody can tell.
 */
class LastCells {
  private rows = 0;
  private filled = 0;
  private figures = 0;
  private narrowest = Infinity;
  private widest = 0;
  private last: { line: number; cell: string } | null = null;

  look(record: CsvRecord, header: Header): void {
    if (this.last !== null) this.count(this.last.cell);
    this.last = { line: record.line, cell: (record.cells[header.length - 1] ?? '').trim() };
  }

  private count(cell: string): void {
    this.rows += 1;
    if (cell !== '') this.filled += 1;
    if (isFigure(cell)) this.figures += 1;
    this.narrowest = Math.min(this.narrowest, cell.length);
    this.widest = Math.max(this.widest, cell.length);
  }

  report(file: string, header: Header, faults: FaultList): void {
    const column = header.at(-1) ?? null;
    const why = this.last === null || column === null ? null : this.sign(this.last.cell);
    if (this.last === null || why === null) {
      faults.remark(file, null, 'no line end after the last row: look whether that row is whole');
      return;
    }
    faults.add({
      file,
      line: this.last.line,
      column,
      value: this.last.cell,
      problem: `no line end after the last row, and its last cell is ${why}: it may be cut off`,
      remedy: 'export the file again; if the row is whole, put a line end after it',
    });
  }

  private sign(cell: string): string | null {
    if (this.rows === 0) return null;
    if (cell === '') return this.filled === this.rows ? 'empty where all others are filled' : null;
    const oneWidth = this.figures === this.rows && this.narrowest === this.widest;
    return oneWidth && isFigure(cell) && cell.length < this.narrowest ? 'narrower than all others' : null;
  }
}

/** A number, a day, an instant. */
const isFigure = (cell: string): boolean => /^[\d.:TZ+-]+$/.test(cell);

/** Counts the cells that a spreadsheet would take for a formula. They are kept as the text they are. */
class FormulaWatch {
  private count = 0;
  private first: { line: number; column: string } | null = null;

  look(record: CsvRecord, header: Header): void {
    for (let at = 0; at < header.length; at += 1) {
      const column = header[at];
      if (column && looksLikeFormula(record.cells[at] ?? '')) {
        this.count += 1;
        this.first ??= { line: record.line, column };
      }
    }
  }

  report(file: string, faults: FaultList): void {
    if (this.first === null) return;
    const cells = this.count === 1 ? 'one cell begins' : `${this.count} cells begin`;
    const text = `${cells} like a spreadsheet formula (first in ${this.first.column}): kept as plain text`;
    faults.remark(file, this.first.line, text);
  }
}

/** A sign before a number, as in a telephone number or a longitude, is none. */
function looksLikeFormula(cell: string): boolean {
  const first = cell.charCodeAt(0);
  if (first === 0x3d || first === 0x40) return true;
  return (first === 0x2b || first === 0x2d) && !/^[+-][\d\s().+/-]*(e[+-]?\d+)?$/i.test(cell);
}
