import { finishWorkOrder, startWorkOrder } from '../attempts.js';
import { answerLate } from '../desk/answerQuestion.js';
import type { House, Stores } from '../house.js';
import type { Actor } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { recordClean } from '../recordClean.js';
import { recordInspection } from '../recordInspection.js';
import { addNote, recordAttachment } from '../siteThings.js';
import { sayLate, sayOnTheWay } from '../telling/coming.js';
import { recordDanger } from '../workLife/dangers.js';
import { addFoundAccessPoint, addFoundLine } from '../workLife/foundThings.js';
import { addFoundWork, type FoundWork } from '../workLife/foundWork.js';
import { gasVisitBefore } from '../workLife/gasVisit.js';
import { reportIncident } from '../workLife/incidents.js';
import { updateTicket } from '../workLife/locateTickets.js';
import { acceptPrice } from '../workLife/priceAcceptance.js';
import { recordTaskResult } from '../workLife/taskResults.js';
import { recordTrenchCheck } from '../workLife/trenchChecks.js';
import { planWater } from '../workLife/water.js';
import type { SyncWork } from './syncWork.js';

/** Does what an item says, by the action its own endpoint calls. */
export async function doWork(house: House, stores: Stores, actor: Actor, work: SyncWork): Promise<void> {
  switch (work.kind) {
    case 'start':
      await startWorkOrder(house, stores, actor, work.workOrderId, work.startedAt, work.cautionsSeen);
      return;
    case 'finish':
      if (await wasLeftAsSaid(stores, work)) return;
      await finishWorkOrder(house, stores, actor, work.workOrderId, work.end);
      return;
    case 'inspection':
      await recordInspection(house, stores, actor, work.found);
      return;
    case 'clean':
      await recordClean(house, stores, actor, work.clean);
      return;
    case 'task_result':
      await refuseElsewhere(stores, 'work_order_task', work.said.taskId, work.workOrderId);
      await recordTaskResult(house, stores, actor, work.said);
      return;
    case 'found_work':
      // Readings of the same visit may come before it or after.
      await addFoundWork(house, stores, actor, await withPrice(stores, work.found), 'last-night');
      return;
    case 'found_line':
      await addFoundLine(house, stores, actor, work.found);
      return;
    case 'found_access_point':
      await addFoundAccessPoint(house, stores, actor, work.found);
      return;
    case 'price_acceptance':
      await acceptPrice(house, stores, actor, work.price);
      return;
    case 'attachment':
      await recordAttachment(house, stores, actor, work.attachment);
      return;
    case 'note':
      await addNote(house, stores, actor, work.note);
      return;
    case 'on_the_way':
      await sayOnTheWay(house, stores, actor, work.workOrderId, work.said);
      return;
    case 'running_late':
      await sayLate(house, stores, actor, work.workOrderId, work.said);
      return;
    case 'danger':
      await recordDanger(house, stores, actor, work.danger);
      return;
    case 'answer':
      await answerLate(house, stores, actor, work.answer);
      return;
    case 'discharge_plan':
      await planWater(house, stores, actor, work.plan);
      return;
    case 'ticket_news':
      await refuseElsewhere(stores, 'locate_ticket', work.ticketId, work.workOrderId);
      await updateTicket(house, stores, actor, work.ticketId, work.news, work.saidAt);
      return;
    case 'trench_check':
      await recordTrenchCheck(house, stores, actor, work.check);
      return;
    case 'incident':
      await reportIncident(house, stores, actor, work.incident);
      return;
    default:
      work satisfies never;
  }
}

/**
 * What an item says of an order is of its house: the order may be another of it, as when a ticket covers the digs of several,
 * or the office gave the work to another.
 */
async function refuseElsewhere(
  stores: Stores,
  table: 'work_order_task' | 'locate_ticket',
  id: string,
  workOrderId: string,
): Promise<void> {
  const thing = await stores.rows.get(table, id);
  const siteOf = async (order: unknown) => (await stores.rows.get('work_order', String(order)))?.['site_id'];
  if (thing === null || (await siteOf(thing['work_order_id'])) === (await siteOf(workOrderId))) return;
  throw ruleBroken(
    'other-house',
    '#/workOrderId',
    `order ${workOrderId} is not of the house of this ${table === 'locate_ticket' ? 'ticket' : 'task'}`,
    'the order whose stop shows it',
  );
}

/** The end of a visit that gas ended says no more than the gas did. */
async function wasLeftAsSaid(
  stores: Stores,
  { workOrderId, end }: Extract<SyncWork, { kind: 'finish' }>,
): Promise<boolean> {
  if (end.result !== 'not_done' || end.reason !== 'gas') return false;
  const order = await stores.rows.get('work_order', workOrderId);
  if (order === null || order['state'] === 'under_way') return false;
  return (await gasVisitBefore(stores, workOrderId, end.endedAt)) !== null;
}

/** Found work whose price was taken, or declined, in an item of its own. */
async function withPrice(stores: Stores, found: FoundWork): Promise<FoundWork> {
  if (found.accepted !== null || found.declined !== null) return found;
  for (const { id, priceMinor } of found.tasks) {
    const price = (priceMinor ?? 0) > 0 ? await stores.sync.priceOf(id) : null;
    if (price === null) continue;
    const { by, at } = price;
    return price.declined ? { ...found, declined: { by, at } } : { ...found, accepted: { by, at } };
  }
  return found;
}
