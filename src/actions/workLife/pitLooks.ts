import { deadParts, PIT_PART_NAMES, type PitAnswers, type PitPart } from '../../domain/work/pitFaults.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** Looks at a pit in force, oldest first. */
export const looksAt = (stores: Stores, pitId: string): Promise<Row[]> =>
  stores.rows.all(
    'inspection',
    [
      { column: 'pit_id', is: '=', value: pitId },
      { column: 'replaced_at', is: 'null' },
      { column: 'withdrawn_at', is: 'null' },
    ],
    'observed_at',
  );

const latest = (looks: readonly Row[]): PitPart[] => {
  const known: PitAnswers = {};
  for (const { raw } of looks)
    for (const part of PIT_PART_NAMES) known[part] = (raw as PitAnswers)[part] ?? known[part];
  return deadParts(known);
};

/** What of a pit's pump is dead by the newest answer on each part, until a visit after it tested the pump. */
export async function standingFaults(stores: Stores, pitId: string): Promise<PitPart[]> {
  const tests = await stores.rows.all('work_order_task', [
    { column: 'pit_id', is: '=', value: pitId },
    { column: 'kind', is: '=', value: 'test_pump' },
    { column: 'result', is: '=', value: 'done' },
    { column: 'done_at', is: 'not-null' },
  ]);
  const isOver = (look: Row) =>
    tests.some(
      (test) =>
        test['work_order_id'] !== look['work_order_id'] &&
        Date.parse(String(test['done_at'])) > Date.parse(String(look['observed_at'])),
    );
  return latest((await looksAt(stores, pitId)).filter((look) => !isOver(look)));
}

/** What the looks of one visit found dead at a pit. */
export const faultsOfVisit = async (stores: Stores, pitId: string, orderId: unknown): Promise<PitPart[]> =>
  latest((await looksAt(stores, pitId)).filter((look) => look['work_order_id'] === orderId));
