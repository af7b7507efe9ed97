import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { TASK_MINUTES } from '../../domain/jetting/siteMinutes.js';
import type { NotDoneReason, PreconditionKind, WorkOrderState } from '../../domain/words.js';
import { BY_CAMERA, goesInFirst } from '../../domain/work/lineStops.js';
import { afterNotDone, TRIES_BEFORE_ESCALATION } from '../../domain/work/notDone.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { type AttemptEnd, linesOf } from './attemptEnd.js';
import { aroseAfter } from './gasVisit.js';
import { lookedTask, stopIn } from './hardStops.js';
import { giveUpOrder } from './withdrawal.js';

/** Whether the trip is billed: what the reason says where the client had been told this day. */
export async function billedFor(stores: Stores, id: string, day: IsoDate, end: AttemptEnd): Promise<string> {
  if (end.result !== 'not_done' || end.reason === null) return 'yes';
  const told = await stores.rows.all('promise', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  return told.some((promise) => promise['day'] === day) ? afterNotDone(end.reason).billedWhenPromised : 'no';
}

/** What the order becomes: done, withdrawn with a decision, or wanted again with what its reason leads to. */
export async function endOfOrder(
  stores: Stores,
  id: string,
  end: AttemptEnd,
  next: WorkOrderState,
  day: IsoDate,
): Promise<Row> {
  if (next === 'done') return { state: next, done_at: end.endedAt };
  if (next === 'withdrawn') {
    const order = (await stores.rows.get('work_order', id)) ?? {};
    const tasks = await stores.rows.all('work_order_task', [{ column: 'work_order_id', is: '=', value: id }]);
    await stores.rows.insert('decision', {
      id: newId(),
      site_id: order['site_id'],
      line_ids: [
        ...new Set(tasks.flatMap((task) => (task['line_id'] === null ? [] : [String(task['line_id'])]))),
      ],
      kind: end.refusal?.untilDay ? 'postponement' : 'refusal',
      decided_by: end.refusal?.by ?? 'client',
      decided_on: day,
      risk_told: end.refusal?.riskTold ?? '',
      until_day: end.refusal?.untilDay ?? null,
    });
    const because = `refused by ${end.refusal?.by ?? 'the client'}`;
    // What was to follow refused work, the next parts of a dig and its restoration, goes with it.
    for (const later of await stores.workLife.chainAfter(id)) await giveUpOrder(stores, later, because);
    return { state: next, withdrawn_because: because };
  }
  const reason = end.reason ?? 'out_of_time';
  const after = afterNotDone(reason);
  const notBefore = addDays(day, after.againInDays);
  if (after.opens !== null) await openPrecondition(stores, id, after.opens, reason, end.endedAt);
  if (reason === 'outlet_not_found') await addTrace(stores, id);
  await addCameraLooks(stores, id);
  const tries = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'reason', is: '=', value: reason },
  ]);
  const order = (await stores.rows.get('work_order', id)) ?? {};
  if (tries.length >= TRIES_BEFORE_ESCALATION)
    await tell(stores, {
      type: 'order_tried_in_vain',
      subjectId: id,
      once: `${id}:${tries.length}`,
      facts: { orderNumber: Number(order['number']), reason, tries: tries.length },
      about: { workOrderId: id, siteId: String(order['site_id']) },
    });
  const wantedBy = order['wanted_by'] === null ? null : String(order['wanted_by']);
  return {
    state: next,
    started_at: null,
    not_before: notBefore,
    ...(wantedBy !== null && wantedBy < notBefore ? { wanted_by: notBefore } : {}),
  };
}

/** What opened when the gas was heard of, before its visit, is not opened twice. */
async function openPrecondition(
  stores: Stores,
  id: string,
  kind: PreconditionKind,
  reason: NotDoneReason,
  endedAt: string,
): Promise<void> {
  const known = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'kind', is: '=', value: kind },
  ]);
  if (reason === 'gas' && known.some((row) => aroseAfter(row, endedAt))) return;
  const facts = { because: reason, ...(reason === 'gas' ? { since: endedAt } : {}) };
  await stores.rows.insert('precondition', { id: newId(), work_order_id: id, kind, facts });
}

/** An outlet nobody found is found with the tracer, before the work it stopped. */
async function addTrace(stores: Stores, id: string): Promise<void> {
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  const line = tasks.find((task) => task['line_id'] !== null)?.['line_id'];
  if (line === undefined || tasks.some((task) => task['kind'] === 'trace')) return;
  const open = await stores.rows.all('work_order_task', [
    { column: 'line_id', is: '=', value: line },
    { column: 'kind', is: '=', value: 'trace' },
    { column: 'open', is: '=', value: true },
  ]);
  if (open.length > 0) return;
  await stores.rows.insert('work_order_task', {
    id: newId(),
    work_order_id: id,
    position: Math.max(0, ...tasks.map((task) => Number(task['position']))) + 1,
    kind: 'trace',
    line_id: line,
    minutes: 45,
    plan: { find: 'outlet' },
  });
}

/**
 * After a hard stop the order comes back with a camera, and looks in before anything else goes into the line; a look
 * that was asked for already becomes the one by camera.
 */
export async function addCameraLooks(stores: Stores, id: string): Promise<void> {
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  let first = Math.min(...tasks.map((task) => Number(task['position'])));
  for (const lineId of linesOf(tasks)) {
    const found = await stopIn(stores, lineId);
    if (found === null || !goesInFirst(tasks.map(lookedTask), lineId, found.stop)) continue;
    const [open] = await stores.rows.all('work_order_task', [
      { column: 'line_id', is: '=', value: lineId },
      { column: 'kind', is: '=', value: 'inspect' },
      { column: 'open', is: '=', value: true },
    ]);
    const isOwn = open === undefined || open['work_order_id'] === id;
    if (isOwn) first -= 1;
    const look = {
      plan: { ...(open?.['plan'] as object), ...BY_CAMERA },
      ...(isOwn ? { position: first } : {}),
    };
    if (open) await stores.rows.update('work_order_task', String(open['id']), look);
    else
      await stores.rows.insert('work_order_task', {
        id: newId(),
        work_order_id: id,
        kind: 'inspect',
        line_id: lineId,
        minutes: TASK_MINUTES.inspect,
        ...look,
      });
    await takeCamera(stores, String(open?.['work_order_id'] ?? id), open ? 0 : TASK_MINUTES.inspect);
  }
}

async function takeCamera(stores: Stores, orderId: string, moreMinutes: number): Promise<void> {
  const order = (await stores.rows.get('work_order', orderId)) ?? {};
  await stores.rows.update('work_order', orderId, {
    kit: [...new Set([...(order['kit'] as string[]), 'camera'])].sort(),
    minutes: Number(order['minutes']) + moreMinutes,
  });
}
