import type { TaskKind } from '../../domain/words.js';
import { mayBeOnLine, mayBeOnPit } from '../../domain/work/askedTask.js';
import { opensGround } from '../../domain/work/preconditionRules.js';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { type FieldFault, Refused } from '../problems.js';
import { tell } from '../telling/tell.js';
import { askedTasks } from './askedTasks.js';
import { gasVisitAt } from './gasVisit.js';
import { startStopFaults } from './hardStops.js';
import type { Believed } from './visitLine.js';

/** Work a crew found while there. */
export interface FoundWork {
  workOrderId: string;
  foundAt: string;
  tasks: {
    id: string;
    kind: TaskKind;
    lineId: string | null;
    pitId: string | null;
    minutes: number | null;
    priceMinor: number | null;
  }[];
  /** Who took the price, and when; null: nobody was asked, it is within the terms. */
  accepted: { by: string; at: string } | null;
  /** Who did not take it, and when: the work is on record and not done. */
  declined: { by: string; at: string } | null;
}

/**
 * Adds work to an order under way, marked unconfirmed until the office looked at it. What costs more needs the
 * client's yes on the spot, or is on record as declined; nobody adds a dig on site: it wants a ticket.
 *
 * @param believed What the tasks are planned by.
 * @throws {Refused} Not under way, a price nobody accepted, a dig, a thing of another site.
 */
export async function addFoundWork(
  house: House,
  stores: Stores,
  actor: Actor,
  found: FoundWork,
  believed?: Believed,
): Promise<Row[]> {
  const order = await stores.rows.lock('work_order', found.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: found.workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, found.foundAt);
  const isWithin =
    order['state'] === 'under_way' || (await gasVisitAt(stores, found.workOrderId, found.foundAt)) !== null;
  if (!isWithin)
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id: found.workOrderId,
      state: String(order['state']),
      allowed: ['under_way'],
      detail: 'Work is found while the crew is there.',
    });
  await refuseFound(stores, order, found);
  const present = await stores.rows.all('work_order_task', [
    { column: 'work_order_id', is: '=', value: found.workOrderId },
  ]);
  let position = Math.max(0, ...present.map((task) => Number(task['position'])));
  const added: Row[] = [];
  const planned = await askedTasks(stores, found.tasks, believed);
  for (const [i, task] of found.tasks.entries()) {
    position += 1;
    added.push(
      await stores.rows.insert('work_order_task', {
        id: task.id,
        work_order_id: found.workOrderId,
        position,
        kind: task.kind,
        line_id: task.lineId,
        pit_id: task.pitId,
        minutes: task.minutes ?? planned[i]?.minutes ?? 0,
        plan: planned[i]?.plan ?? {},
        unconfirmed: true,
        added_by: actor.name,
        price_minor: task.priceMinor,
        accepted_by: found.accepted?.by ?? null,
        accepted_at: found.accepted?.at ?? null,
        ...(found.declined !== null && (task.priceMinor ?? 0) > 0 ? declinedBy(found.declined) : {}),
      }),
    );
  }
  const minutes = added.reduce((sum, task) => sum + Number(task['minutes']), 0);
  const more = (of: (task: PlannedTask) => number) => planned.reduce((sum, task) => sum + of(task), 0);
  await stores.rows.update('work_order', found.workOrderId, {
    minutes: Number(order['minutes']) + minutes,
    water_l: Number(order['water_l']) + more(({ waterL }) => waterL),
    sludge_l: Number(order['sludge_l']) + more(({ sludgeL }) => sludgeL),
  });
  await tell(stores, {
    type: 'work_found',
    subjectId: found.workOrderId,
    once: String(added[0]?.['id']),
    facts: {
      orderNumber: Number(order['number']),
      minutes,
      tasks: added.map((task) => task['kind'] as TaskKind),
    },
    about: { workOrderId: found.workOrderId, siteId: String(order['site_id']) },
  });
  return added;
}

const declinedBy = ({ by, at }: { by: string; at: string }): Row => ({
  declined_by: by,
  declined_at: at,
  result: 'not_done',
  reason: 'refused',
});

async function refuseFound(stores: Stores, order: Row, found: FoundWork): Promise<void> {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `#/${field}`, detail, remedy });
  for (const [i, { kind, lineId, pitId, priceMinor }] of found.tasks.entries()) {
    if ((lineId === null) === (pitId === null))
      fault(`tasks/${i}`, 'names neither or both of line and pit', 'one of lineId and pitId');
    if (lineId !== null && !mayBeOnLine(kind))
      fault(`tasks/${i}/kind`, `${kind} is done on a pit`, 'give pitId');
    if (pitId !== null && !mayBeOnPit(kind))
      fault(`tasks/${i}/kind`, `${kind} is done on a line`, 'give lineId');
    if (opensGround([kind]))
      fault(
        `tasks/${i}/kind`,
        `${kind} opens the ground`,
        'ask for an order of its own: it waits for a locate ticket',
      );
    if (priceMinor !== null && priceMinor > 0 && found.accepted === null && found.declined === null)
      fault('accepted', 'is missing', 'who accepted the price, and when; or declined it: declined');
    const thing =
      lineId !== null
        ? await stores.rows.get('line', lineId)
        : pitId !== null
          ? await stores.rows.get('pit', pitId)
          : null;
    if ((lineId ?? pitId) !== null && thing?.['site_id'] !== order['site_id'])
      fault(
        `tasks/${i}/${lineId !== null ? 'lineId' : 'pitId'}`,
        'is not on this site',
        'a line or pit of the site',
      );
  }
  if (found.accepted !== null && found.declined !== null)
    fault('declined', 'is said beside accepted', 'one of both');
  faults.push(...(await startStopFaults(stores, found.tasks.map(asRow), found.foundAt)));
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'found-work', faults });
}

const asRow = ({ kind, lineId }: FoundWork['tasks'][number]): Row => ({ kind, line_id: lineId, plan: {} });

/** The office confirms work that was found on site, or says it was not to be billed. */
export async function confirmFoundWork(
  stores: Stores,
  taskId: string,
  priceMinor: number | null,
): Promise<Row> {
  const task = await stores.rows.lock('work_order_task', taskId);
  if (!task) throw new Refused({ code: 'not-found', resource: 'work_order_task', id: taskId });
  return (
    (await stores.rows.update('work_order_task', taskId, {
      unconfirmed: false,
      ...(priceMinor === null ? {} : { price_minor: priceMinor }),
    })) ?? task
  );
}
