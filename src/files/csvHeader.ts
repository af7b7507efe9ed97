import { lettersApart } from '../domain/nearestName.js';
import type { FaultList } from './csvFault.js';

/** The columns a file may have; the required ones must be there, though their cells may be empty. */
export interface Columns {
  required: readonly string[];
  optional: readonly string[];
  /** Other names that firms give our columns, as a hint: what stands in them is not taken without a person. */
  alsoCalled?: Readonly<Record<string, readonly string[]>>;
}

/** Which column stands at which place; null where a column is none of ours. */
export type Header = (string | null)[];

/**
 * Reads the first row of a file. Case and blanks do not matter (`Line ID` is `line_id`).
 *
 * @returns Null when a column is missing, doubled or nearly one of ours: `faults` then says which.
 */
export function readHeader(
  file: string,
  cells: string[],
  columns: Columns,
  faults: FaultList,
): Header | null {
  const before = faults.total;
  const header = namedColumns(file, cells, columns, faults);
  return faults.total > before ? null : header;
}

function namedColumns(file: string, cells: string[], columns: Columns, faults: FaultList): Header {
  const known = [...columns.required, ...columns.optional];
  const alsoCalled = columns.alsoCalled ?? {};
  const found = cells.map((cell) =>
    cell
      .trim()
      .toLowerCase()
      .replace(/[\s-]+/g, '_'),
  );
  const missing = columns.required.filter((name) => !found.includes(name));
  const separator = missing.length > 0 ? otherSeparator(cells) : null;
  if (separator !== null) addSeparator(file, cells, separator, faults);
  else {
    for (const name of missing) {
      const other = found.findIndex((each) => !known.includes(each) && alsoCalled[name]?.includes(each));
      addMissing(file, cells, name, columns, cells[other] ?? null, faults);
    }
  }
  found.forEach((name, at) => {
    if (known.includes(name) && found.indexOf(name) !== at) addDoubled(file, name, faults);
  });
  const absent = known.filter((name) => !found.includes(name));
  return found.map((name, at) => {
    if (known.includes(name)) return name;
    const usual = absent.find((column) => alsoCalled[column]?.includes(name));
    if (usual !== undefined && missing.includes(usual)) return null; // told with the missing column
    const nearly = absent.find((column) => lettersApart(column, name) <= misspelling(column));
    const meant = usual ?? nearly;
    if (meant !== undefined) {
      addNearMiss(file, cells[at] ?? '', usual === undefined ? 'nearly' : 'perhaps', meant, faults);
    } else if (name !== '') faults.remark(file, 1, `column ${JSON.stringify(cells[at])} is not used`);
    return null;
  });
}

/** What stands between the cells of a row that has no commas. */
function otherSeparator(cells: string[]): string | null {
  const onlyCell = cells.length === 1 ? (cells[0] ?? '') : '';
  return [';', '\t', '|'].find((mark) => onlyCell.includes(mark)) ?? null;
}

function addSeparator(file: string, cells: string[], separator: string, faults: FaultList): void {
  faults.add({
    file,
    line: 1,
    column: null,
    value: cells[0] ?? '',
    problem: `the cells are separated by ${separator === '\t' ? 'tabs' : JSON.stringify(separator)}`,
    remedy: 'save it with commas between the cells and points in the numbers',
  });
}

function addMissing(
  file: string,
  cells: string[],
  name: string,
  columns: Columns,
  other: string | null,
  faults: FaultList,
): void {
  const optional = columns.optional.length === 0 ? '' : `; may have ${columns.optional.join(', ')}`;
  faults.add({
    file,
    line: 1,
    column: name,
    value: null,
    problem: `the column is missing; found ${cells.join(', ')}`,
    remedy:
      other === null
        ? `add the column ${name}, or rename the one that holds it (needed: ${columns.required.join(', ')}${optional})`
        : `rename ${other.trim()} to ${name} if that is what it holds`,
  });
}

function addDoubled(file: string, name: string, faults: FaultList): void {
  const problem = 'the column stands there twice';
  faults.add({ file, line: 1, column: name, value: null, problem, remedy: 'keep one of the two' });
}

/** A misspelt optional column would otherwise lose all that stands in it without a word. */
function addNearMiss(
  file: string,
  cell: string,
  how: 'nearly' | 'perhaps',
  meant: string,
  faults: FaultList,
): void {
  faults.add({
    file,
    line: 1,
    column: cell,
    value: null,
    problem: `no known column, but ${how} ${meant}`,
    remedy: `name it ${meant} if that is meant, else take the column out`,
  });
}

/** How many letters may be wrong: in a short name two are another word. */
const misspelling = (column: string): number => (column.length < 4 ? 0 : column.length < 6 ? 1 : 2);
