import type { TaskKind } from '../../domain/words.js';
import { GOES_INTO_LINE } from '../../domain/work/dangers.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { FieldFault } from '../problems.js';

/** Work that goes into lines where something stopped hard and no camera looked in since. */
export async function hardStopFaults(
  stores: Stores,
  tasks: readonly Row[],
  until: string,
): Promise<FieldFault[]> {
  const faults: FieldFault[] = [];
  const into = tasks.filter((task) => GOES_INTO_LINE.includes(task['kind'] as TaskKind));
  for (const lineId of new Set(into.flatMap((task) => task['line_id'] ?? []))) {
    const stop = await stores.workLife.hardStop(String(lineId), until);
    if (stop === null) continue;
    faults.push({
      pointer: '#/tasks',
      detail: `something stopped hard in line ${String(lineId)} at ${String(stop['met_at'])}, and no camera looked in since: a gas line is possible`,
      remedy: 'no cutter and no jet: a camera first (POST /v1/inspections with method camera)',
    });
  }
  return faults;
}
