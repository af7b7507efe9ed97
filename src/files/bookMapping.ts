import { z } from 'zod';
import { UNITS_OF_COLUMNS } from './bookUnits.js';
import type { FaultList, RowFault } from './csvFault.js';

const DAY_ORDERS = ['YYYY-MM-DD', 'MM/DD/YYYY', 'DD/MM/YYYY', 'DD.MM.YYYY', 'M/D/YY'] as const;

const columnShape = z.strictObject({
  /** Ours; null: passed over. */
  column: z.string().nullable(),
  /** Their words and ours, as `{"Sump line": "sump_discharge"}`; compared without case. */
  words: z.record(z.string(), z.string()).optional(),
  /** How their days are written. */
  days: z.enum(DAY_ORDERS).optional(),
  /** Unit of their numbers, where it is not the one in our column's name. */
  unit: z.string().optional(),
});
type Column = z.infer<typeof columnShape>;

const fileShape = z.record(z.string(), z.union([z.string(), z.null(), columnShape]));
const mappingShape = z.strictObject({
  sites: fileShape.optional(),
  lines: fileShape.optional(),
  readings: fileShape.optional(),
  crews: fileShape.optional(),
});

export type BookMapping = Partial<Record<keyof z.infer<typeof mappingShape>, ColumnMap>>;

/**
 * A mapping file: of each of the four files, what their columns are with us.
 * @throws {Error} Where it is no JSON, or says what there is not.
 */
export function readMapping(text: string): BookMapping {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch (error) {
    throw new Error(`the mapping file is not JSON: ${(error as Error).message}`);
  }
  const parsed = mappingShape.safeParse(json);
  if (!parsed.success) throw new Error(`the mapping file does not fit:\n${z.prettifyError(parsed.error)}`);
  return Object.fromEntries(
    Object.entries(parsed.data).map(([file, columns]) => [file, new ColumnMap(columns ?? {})]),
  );
}

/** Lets 1.5 in be 38.1 mm, not 38.099999999999994. */
const NINE_DIGITS = 9;

const normal = (name: string): string => name.trim().toLowerCase();

/** Their columns of one file, and how a cell of each becomes one of ours. */
export class ColumnMap {
  private readonly byTheirs = new Map<string, Column>();
  private readonly byOurs = new Map<string, Column>();
  /** By our names: theirs as the file writes them. */
  private readonly theirNames = new Map<string, string>();

  constructor(columns: z.infer<typeof fileShape>) {
    for (const [theirs, said] of Object.entries(columns)) {
      const column = said === null || typeof said === 'string' ? { column: said } : said;
      if (column.unit !== undefined && !UNITS_OF_COLUMNS[column.column ?? '']?.[column.unit])
        throw new Error(
          `the mapping file gives ${column.column} in ${column.unit}: ${Object.keys(UNITS_OF_COLUMNS[column.column ?? ''] ?? {}).join(', ') || 'it has no unit'}`,
        );
      this.byTheirs.set(normal(theirs), column);
      if (column.column !== null) this.byOurs.set(column.column, column);
    }
  }

  /** The first row with our names; what is mapped but not there is a fault. */
  rename(file: string, cells: readonly string[], faults: FaultList): string[] {
    const found = new Set(cells.map(normal));
    for (const [theirs, { column }] of this.byTheirs) {
      if (found.has(theirs)) continue;
      faults.add({
        file,
        line: 1,
        column,
        value: null,
        problem: `the mapping names a column ${JSON.stringify(theirs)} that the file does not have; found ${cells.join(', ')}`,
        remedy: 'write it in the mapping as in the first row of the file, or take it out there',
      });
    }
    return cells.map((cell) => {
      const column = this.byTheirs.get(normal(cell));
      if (column?.column) this.theirNames.set(column.column, cell.trim());
      return column === undefined ? cell : (column.column ?? '');
    });
  }

  /** Their name of one of our columns; ours where the file has it under that. */
  nameOf(column: string): string {
    return this.theirNames.get(column) ?? column;
  }

  /** A fault of a row as the file has it: their column, the cell as it stands there, the form the mapping gives. */
  inTheirWords(fault: RowFault, cell: string | undefined): RowFault {
    const how = fault.column === null ? undefined : this.byOurs.get(fault.column);
    if (how === undefined || fault.column === null) return fault;
    return {
      ...fault,
      column: this.nameOf(fault.column),
      value: cell?.trim() ?? fault.value,
      remedy: how.days ? `a day written ${how.days}, as the mapping says` : fault.remedy,
    };
  }

  /** A cell of theirs as ours; what cannot be read stays as it is, and is told as a fault of that cell. */
  translate(column: string, cell: string): string {
    const how = this.byOurs.get(column);
    if (how === undefined || cell === '') return cell;
    const word = Object.entries(how.words ?? {}).find(([theirs]) => normal(theirs) === normal(cell));
    if (word) return word[1];
    if (how.days) return isoDay(cell, how.days) ?? cell;
    const factor = how.unit === undefined ? undefined : UNITS_OF_COLUMNS[column]?.[how.unit];
    return factor === undefined || !Number.isFinite(Number(cell))
      ? cell
      : String(Number((Number(cell) * factor).toPrecision(NINE_DIGITS)));
  }
}

function isoDay(cell: string, order: (typeof DAY_ORDERS)[number]): string | null {
  const parts = cell.split(/[./-]/);
  const names = order.split(/[./-]/).map((part) => part[0] ?? '');
  if (parts.length !== 3 || !parts.every((part) => /^\d{1,4}$/.test(part))) return null;
  const of = (name: string) => parts[names.indexOf(name)] ?? '';
  // Two digits are of this century: nobody's books of buried lines are a hundred years ahead.
  const year = order === 'M/D/YY' && of('Y').length === 2 ? `20${of('Y')}` : of('Y');
  return `${year.padStart(4, '0')}-${of('M').padStart(2, '0')}-${of('D').padStart(2, '0')}`;
}
