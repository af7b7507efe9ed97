import type { NotDoneReason } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { AttemptEnd } from './attemptEnd.js';

/** Reasons for which nobody came near the pump, or nobody may touch it. */
const NEVER_REACHED: readonly NotDoneReason[] = ['no_one_home', 'gate', 'dog', 'snow', 'gas'];

const REMEDY = 'power on, valve open, float cycled, lid back: all four';

/** Why the pump's answer at the end of a visit does not do; null: it does, or no pit is concerned. */
export async function pumpFault(
  stores: Stores,
  end: AttemptEnd,
  tasks: readonly Row[],
): Promise<{ detail: string; remedy: string } | null> {
  const pump = end.pumpRestored;
  const off = pump !== null && !Object.values(pump).every(Boolean);
  if (off && end.result !== 'not_done') return { detail: 'the pump is not restored', remedy: REMEDY };
  if (off && (end.note ?? '').trim() === '')
    return {
      detail: 'the pump is left unrestored without a word',
      remedy: `${REMEDY}; or a note saying why`,
    };
  if (pump !== null || (end.reason !== null && NEVER_REACHED.includes(end.reason))) return null;
  return (await concernsPit(stores, tasks))
    ? { detail: 'the pump is not answered for', remedy: REMEDY }
    : null;
}

/** Whether work is on a pit, its discharge, or a line that runs into it, be it through other lines. */
async function concernsPit(stores: Stores, tasks: readonly Row[]): Promise<boolean> {
  if (tasks.some((task) => task['pit_id'] !== null)) return true;
  const seen = new Set<unknown>();
  let ids = tasks.flatMap((task) => (task['line_id'] === null ? [] : [task['line_id']]));
  while (ids.length > 0) {
    for (const id of ids) seen.add(id);
    const pits = await stores.rows.all('pit', [{ column: 'discharge_line_id', is: 'in', value: ids }]);
    if (pits.length > 0) return true;
    const lines = await stores.rows.all('line', [{ column: 'id', is: 'in', value: ids }]);
    if (lines.some((line) => line['drains_to_pit_id'] !== null)) return true;
    ids = lines.flatMap(({ drains_to_line_id: below }) => (below === null || seen.has(below) ? [] : [below]));
  }
  return false;
}
