import type { PipeChanges } from '../../domain/hydraulics/pipes.js';
import type { LineKind } from '../../domain/words.js';
import type { DigJob } from '../../domain/work/digPlan.js';
import type { TracedRun } from '../../domain/work/tracedRun.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

const number = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);

/** What the books know of a line that is to be dug up. */
export const digFacts = (
  line: Row,
  pipes: PipeChanges,
): Pick<DigJob, 'lineId' | 'kind' | 'pipes' | 'lengthM' | 'boreMm' | 'perforated'> => ({
  lineId: String(line['id']),
  kind: line['kind'] as LineKind,
  pipes,
  lengthM: number(line['length_m']),
  boreMm: number(line['main_bore_mm']),
  perforated: (line['perforated'] ?? null) as boolean | null,
});

/** From where to where the last trace of a line says it must be dug; nulls where none was made. */
export async function tracedRun(stores: Stores, lineId: string): Promise<TracedRun> {
  const traces = await stores.rows.all(
    'work_order_task',
    [
      { column: 'line_id', is: '=', value: lineId },
      { column: 'kind', is: '=', value: 'trace' },
      { column: 'result', is: '=', value: 'done' },
    ],
    'done_at',
  );
  const { found } = (traces.at(-1)?.['plan'] ?? {}) as { found?: Partial<TracedRun> };
  return {
    fromM: found?.fromM ?? null,
    toM: found?.toM ?? null,
    depthM: found?.depthM ?? null,
    depthOf: found?.depthOf ?? null,
  };
}
