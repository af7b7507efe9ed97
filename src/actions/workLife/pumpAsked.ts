import type { NotDoneReason } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { AttemptEnd } from './attemptEnd.js';
import { faultsOfVisit } from './pitLooks.js';

/** Reasons for which nobody came near the pump, or nobody may touch it. */
const NEVER_REACHED: readonly NotDoneReason[] = ['no_one_home', 'gate', 'dog', 'snow', 'gas'];

const REMEDY = 'power on, valve open, float cycled, lid back: all four';

/** Why the pump's answer at the end of a visit does not do; null: it does, or no pit is concerned. */
export async function pumpFault(
  stores: Stores,
  end: AttemptEnd,
  tasks: readonly Row[],
): Promise<{ field: string; detail: string; remedy: string } | null> {
  const pump = end.pumpRestored;
  const isDead = pump !== null && (await floatIsDead(stores, tasks));
  if (isDead && pump.floatCycled)
    return {
      field: 'pumpRestored/floatCycled',
      detail: 'the test of this visit says that the float did not cycle',
      remedy:
        'a test after its repair (POST /v1/inspections with pitTest), or false and a note of how the pit is left',
    };
  // A float found dead is said so, with how the pit is left; everything else is restored all the same.
  const told = { ...pump, ...(isDead && (end.note ?? '').trim() !== '' ? { floatCycled: true } : {}) };
  const off = pump !== null && !Object.values(told).every(Boolean);
  if (off && end.result !== 'not_done')
    return {
      field: 'pumpRestored',
      detail: 'the pump is not restored',
      remedy: isDead
        ? `${REMEDY}; a float that the test found dead: false, and a note of how the pit is left`
        : REMEDY,
    };
  if (off && (end.note ?? '').trim() === '')
    return {
      field: 'pumpRestored',
      detail: 'the pump is left unrestored without a word',
      remedy: `${REMEDY}; or a note saying why`,
    };
  if (pump !== null || (end.reason !== null && NEVER_REACHED.includes(end.reason))) return null;
  return (await concernsPit(stores, tasks))
    ? { field: 'pumpRestored', detail: 'the pump is not answered for', remedy: REMEDY }
    : null;
}

/** Whether a look of this visit found the float of one of its pits dead. */
async function floatIsDead(stores: Stores, tasks: readonly Row[]): Promise<boolean> {
  const [orderId] = tasks.map((task) => task['work_order_id']);
  const looks = await stores.rows.all('inspection', [
    { column: 'work_order_id', is: '=', value: orderId ?? null },
    { column: 'pit_id', is: 'not-null' },
  ]);
  for (const pitId of new Set(looks.map((look) => String(look['pit_id']))))
    if ((await faultsOfVisit(stores, pitId, orderId)).includes('floatCycled')) return true;
  return false;
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
