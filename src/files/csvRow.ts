import type { z } from 'zod';
import type { FaultList } from './csvFault.js';
import type { Cells } from './csvTable.js';

/** Notes a fault in one column of the row at hand. */
export type RowFaultNote = (column: string, value: string | null, problem: string, remedy: string) => void;

/** Binds the place once, so that a row's checks name only column, value, problem and remedy. */
export function noteAt(file: string, line: number, faults: FaultList): RowFaultNote {
  return (column, value, problem, remedy) => {
    faults.add({ file, line, column, value, problem, remedy });
  };
}

/** The row by its schema; null when cells were refused, each with its own fault. */
export function parsedRow<S extends z.ZodType>(
  schema: S,
  cells: Cells,
  note: RowFaultNote,
): z.output<S> | null {
  const result = schema.safeParse(cells);
  if (result.success) return result.data;
  for (const issue of result.error.issues) {
    const column = String(issue.path[0] ?? '');
    const params: unknown = 'params' in issue ? issue.params : undefined;
    note(column, cells[column] ?? null, issue.message, remedyOf(params));
  }
  return null;
}

function remedyOf(params: unknown): string {
  const remedy = typeof params === 'object' && params !== null && 'remedy' in params ? params.remedy : null;
  return typeof remedy === 'string' ? remedy : 'correct the cell';
}
