import type { Deposit, LineKind } from '../../domain/words.js';
import type { VisitLine } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';
import { Refused } from '../problems.js';

const number = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);

/** A line as the work on it depends on it, with what the trend believes now. */
export async function visitLineOf(stores: Stores, lineId: string): Promise<VisitLine> {
  const line = await stores.rows.get('line', lineId);
  if (!line) throw new Refused({ code: 'not-found', resource: 'line', id: lineId });
  const [trend] = await stores.rows.all('trend', [{ column: 'line_id', is: '=', value: lineId }], 'line_id');
  const [pit] = await stores.rows.all('pit', [{ column: 'discharge_line_id', is: '=', value: lineId }]);
  return {
    lineId,
    systemId: String(line['system_id']),
    kind: line['kind'] as LineKind,
    isDischarge: pit !== undefined,
    lengthM: number(line['length_m']),
    boreMm: number(line['main_bore_mm']),
    occlusion: Number(trend?.['occlusion'] ?? 0),
    deposit: line['deposit'] as Deposit,
    unseen: Number(trend?.['readings_used'] ?? 0) === 0,
    stepsToPit: pit !== undefined ? 0 : line['drains_to'] === 'line' ? 2 : 1,
  };
}
