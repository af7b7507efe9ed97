import type { DangerKind } from '../../domain/words.js';
import { endsVisit } from '../../domain/work/dangers.js';
import { finishWorkOrder } from '../attempts.js';
import type { House, Stores } from '../house.js';
import { authorId, mayWorkOn } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { holdSite, recordGas } from './gas.js';
import { endVisitSooner, gasEnd, gasVisitAt } from './gasVisit.js';
import { addCameraLooks } from './notDoneWork.js';

/** What a crew met on site that stops the work: one tap. */
export interface NewDanger {
  id: string;
  workOrderId: string;
  kind: DangerKind;
  metAt: string;
  /** The line it was met on; a hard stop has one. */
  lineId: string | null;
  /** How far in, from where the nozzle or cable went in. */
  stoppedM: number | null;
  note: string | null;
}

/**
 * Keeps what was met. Gas ends the visit as not done and is an incident with who must be told; nobody comes back to
 * the house, for this order or another, before it was made safe. After a hard stop nothing but a camera goes into the line.
 *
 * @throws {Refused} A line that is not of the order, a time to come.
 */
export async function recordDanger(
  house: House,
  stores: Stores,
  actor: Actor,
  danger: NewDanger,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', danger.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: danger.workOrderId });
  await mayWorkOn(house, stores, actor, String(order['site_id']), danger.metAt);
  await refuseMisplaced(house, stores, danger);
  const row = await stores.rows.insert('danger', {
    id: danger.id,
    work_order_id: danger.workOrderId,
    line_id: danger.lineId,
    kind: danger.kind,
    met_at: danger.metAt,
    stopped_m: danger.stoppedM,
    note: danger.note,
    author: actor.name,
    author_id: authorId(actor),
  });
  if (endsVisit(danger.kind)) await leave(house, stores, actor, order, danger);
  else if ((await gasVisitAt(stores, danger.workOrderId, danger.metAt)) !== null)
    await addCameraLooks(stores, danger.workOrderId);
  return row;
}

async function refuseMisplaced(house: House, stores: Stores, danger: NewDanger): Promise<void> {
  if (liesAhead(house, danger.metAt))
    throw ruleBroken('danger', '#/metAt', `${danger.metAt} lies in the future`, 'the moment it was met');
  if (danger.lineId === null) {
    if (danger.kind === 'hard_stop')
      throw ruleBroken('danger', '#/lineId', 'is missing', 'the line in which it stopped');
    return;
  }
  const tasks = await stores.rows.all('work_order_task', [
    { column: 'work_order_id', is: '=', value: danger.workOrderId },
    { column: 'line_id', is: '=', value: danger.lineId },
  ]);
  if (tasks.length === 0)
    throw ruleBroken('danger', '#/lineId', 'is not worked on in this order', 'a line of one of its tasks');
}

/** Everybody is out: a visit under way ends here; one still ahead waits until the place was made safe. */
async function leave(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  danger: NewDanger,
): Promise<void> {
  const end = gasEnd(danger);
  if (order['state'] === 'under_way') await finishWorkOrder(house, stores, actor, danger.workOrderId, end);
  else {
    await endVisitSooner(stores, danger.workOrderId, end);
    await recordGas(house, stores, actor, order, danger.metAt, end.note ?? '');
  }
  await holdSite(stores, order['site_id'], danger.metAt);
}
