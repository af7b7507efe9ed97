import type { Row } from '../actions/ports.js';
import { fromStored, type UnitSystem } from '../domain/units/quantity.js';
import { textOfCell } from '../files/csvFormula.js';
import { cellsOf, jsonIn, quantityIn, unfit } from './resourceBatch.js';

/** How the cell of a column is read; every other column holds text. */
const OBJECTS: ReadonlySet<string> = new Set(['reading', 'pitTest', 'plugged']);
const QUANTITIES: ReadonlySet<string> = new Set(['distance', 'nozzleStopped', 'water']);
const NUMBERS: ReadonlySet<string> = new Set(['deviceClockOffsetSeconds', 'passes']);

/** Members of a reading that stand for a quantity: their name in the body and their dimension. */
const MEASURED = {
  depthMm: ['depth', 'bore'],
  volumeL: ['volume', 'volume'],
  flowLps: ['flow', 'flow'],
  riseMmPerMinute: ['rise', 'bore'],
  fallMmPerMinute: ['fall', 'bore'],
  nozzleStoppedAtM: ['nozzleStopped', 'length'],
} as const;

/** A reading on record as it is sent; null where nothing was read. */
export function readingSent(row: Row, units: UnitSystem): Record<string, unknown> | null {
  if (row['method'] === null) return null;
  const sent: Record<string, unknown> = { method: row['method'] };
  for (const [name, value] of Object.entries(row['raw'] as Record<string, unknown>)) {
    if (name === 'method' || name === 'plugged') continue;
    const [as, dimension] = MEASURED[name as keyof typeof MEASURED] ?? [];
    if (as === undefined || dimension === undefined) sent[name] = value;
    else sent[as] = fromStored(Number(value), dimension, units);
  }
  return sent;
}

/** What a look at a pit found, as it is sent; null where it was none. */
export const pitTestSent = (row: Row): unknown =>
  row['pit_id'] !== null && Object.keys(row['raw'] as object).length > 0 ? row['raw'] : null;

/**
 * Rows of an exported list as items to record; what only tells how a record came to be is passed over.
 *
 * @param taken Columns that are recorded.
 * @param told  Columns the list has besides.
 * @throws {Refused} `bad-body` naming line and column.
 */
export function findingsOfCsv(
  text: string,
  taken: readonly string[],
  told: readonly string[],
): Record<string, unknown>[] {
  const [header = [], ...rows] = cellsOf(text);
  for (const name of header)
    if (!taken.includes(name) && !told.includes(name))
      throw unfit(1, name, 'is no column of this list', `one of ${taken.join(', ')}`);
  return rows.map((cells, at) => {
    const item: Record<string, unknown> = {};
    for (const [i, name] of header.entries()) {
      const cell = cells[i] ?? '';
      if (cell !== '' && taken.includes(name)) item[name] = valueIn(cell, at + 2, name);
    }
    return item;
  });
}

function valueIn(cell: string, line: number, name: string): unknown {
  if (OBJECTS.has(name)) return jsonIn(cell, line, name);
  if (QUANTITIES.has(name)) return quantityIn(cell, line, name);
  if (!NUMBERS.has(name)) return textOfCell(cell);
  if (Number.isFinite(Number(cell))) return Number(cell);
  throw unfit(line, name, `${JSON.stringify(cell)} is not a number`, 'digits with a point');
}

/** Whether what is sent says the same as what is on record; quantities came through other units. */
export function saysTheSame(sent: unknown, held: unknown): boolean {
  if (typeof sent === 'number' && typeof held === 'number')
    return Math.abs(sent - held) <= 1e-7 * Math.max(1, Math.abs(sent), Math.abs(held));
  if (isPlain(sent) && isPlain(held)) {
    const names = new Set([...Object.keys(sent), ...Object.keys(held)]);
    return [...names].every((name) => saysTheSame(sent[name] ?? null, held[name] ?? null));
  }
  return (sent ?? null) === (held ?? null);
}

const isPlain = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
