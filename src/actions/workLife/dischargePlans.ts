import { v7 as newId } from 'uuid';
import type { Outlet, TaskKind, WaterReceiver } from '../../domain/words.js';
import { dischargeQuestion, isSensitive, planHolds } from '../../domain/work/waterRules.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** Tasks that send water somewhere: where the outlet is sensitive, that is planned first. */
const SENDS_WATER: readonly TaskKind[] = ['jet', 'hose_flush', 'cable', 'clear_outlet', 'clear_pit'];

export const sendsWater = (tasks: readonly TaskKind[]): boolean =>
  tasks.some((task) => SENDS_WATER.includes(task));

/** Lines of a system whose outlet takes no flushed water without a reference, and that have none on record. */
export const outletsToPlan = (lines: readonly Row[]): Row[] =>
  lines.filter((line) => isSensitive(line['outlet'] as Outlet) && line['discharge_permit_ref'] === null);

/**
 * Opens the discharge plan of an order with what is to be decided. What was decided for the last flush of the same
 * system holds for this one too: the plan is then met, and says whose it was.
 *
 * @param outlets Sensitive ones of the systems worked on; none where water is pumped rather than flushed.
 */
export async function openDischargePlan(
  stores: Stores,
  orderId: string,
  outlets: readonly Row[],
  at: string,
): Promise<void> {
  const systems = [...new Set(outlets.map((line) => String(line['system_id'])))];
  const earlier: (Row | null)[] = [];
  for (const id of systems) earlier.push(await stores.workLife.lastFlushPlan(id, SENDS_WATER));
  const plan = earlier[0] ?? null;
  if (plan === null || !earlier.every((each) => holdsAs(each, plan))) {
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: orderId,
      kind: 'discharge_plan',
      facts: questionOf(outlets),
    });
    return;
  }
  const author = `as on order ${String(plan['number'])}`;
  const { receiver, place, permit_ref: permitRef, sludge_to: sludgeTo } = plan;
  await stores.rows.insert('water_record', {
    id: newId(),
    work_order_id: orderId,
    phase: 'planned',
    receiver,
    place,
    permit_ref: permitRef,
    sludge_to: sludgeTo,
    at,
    author,
  });
  await stores.rows.insert('precondition', {
    id: newId(),
    work_order_id: orderId,
    kind: 'discharge_plan',
    state: 'met',
    met_at: at,
    met_by: author,
    facts: { receiver, permitRef },
  });
}

const holdsAs = (each: Row | null, plan: Row): boolean =>
  each !== null &&
  each['receiver'] === plan['receiver'] &&
  planHolds(each['receiver'] as WaterReceiver, each['permit_ref'] as string | null);

function questionOf(outlets: readonly Row[]): Row {
  const [first] = outlets;
  if (first === undefined) return { decide: 'where the water that is pumped or let out goes' };
  const named = outlets.map(
    (line) => `${String(line['name'])}: ${String(line['outlet']).replaceAll('_', ' ')}`,
  );
  return { outlets: named.join('; '), decide: dischargeQuestion(first['outlet'] as Outlet) };
}
