import { v7 as newId } from 'uuid';
import type { AttemptResult, FlowProven, NotDoneReason } from '../domain/words.js';
import type { House, Stores } from './house.js';
import { mayWorkOn } from './mayWorkOn.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused } from './problems.js';

async function lockedOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  at: string,
  allowed: string[],
): Promise<Row> {
  const order = await stores.rows.lock('work_order', id);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id });
  await mayWorkOn(house, stores, actor, String(order['site_id']), at);
  if (!allowed.includes(String(order['state']))) {
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id,
      state: String(order['state']),
      allowed,
      detail: 'The order is not in a state for this.',
    });
  }
  return order;
}

/** The crew is on site: an attempt begins. Open preconditions forbid it. */
export async function startWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  startedAt: string,
): Promise<Row> {
  const order = await lockedOrder(house, stores, actor, id, startedAt, ['wanted', 'placed']);
  const open = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'state', is: '=', value: 'open' },
  ]);
  if (open.length > 0) {
    throw new Refused({
      code: 'rule-broken',
      rule: 'preconditions',
      faults: open.map((row) => ({
        pointer: '#',
        detail: `${String(row['kind'])} is open`,
        remedy: 'meet or waive it before the crew goes',
      })),
    });
  }
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'live', is: '=', value: true },
  ]);
  const crewId =
    actor.memberId === null
      ? null
      : await stores.work.crewOf(actor.memberId, house.zone.dayOf(new Date(startedAt)));
  await stores.rows.insert('attempt', {
    id: newId(),
    work_order_id: id,
    stop_id: stop?.['id'] ?? null,
    crew_id: crewId,
    author: actor.name,
    started_at: startedAt,
  });
  return (await stores.rows.update('work_order', id, { state: 'under_way', started_at: startedAt })) ?? order;
}

export interface AttemptEnd {
  endedAt: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  pumpRestored: { powerOn: boolean; valveOpen: boolean; floatCycled: boolean; lidBack: boolean } | null;
  flowProven: FlowProven | null;
  waterWentTo: string | null;
  note: string | null;
  tasks: { id: string; result: AttemptResult; reason: NotDoneReason | null }[];
}

/** Ends the attempt. Done needs three things only: pump restored, flow proven answered, where the water went. */
export async function finishWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  end: AttemptEnd,
): Promise<Row> {
  const order = await lockedOrder(house, stores, actor, id, end.endedAt, ['under_way']);
  const [attempt] = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  if (!attempt)
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id,
      state: 'not started',
      allowed: ['under_way'],
      detail: 'Start the work order first.',
    });
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  refuseUnfinished(end, String(attempt['started_at']), tasks);

  for (const task of tasks) {
    const said = end.tasks.find((each) => each.id === task['id']);
    // Everything else is prefilled: a visit that is done did its tasks, unless the crew says otherwise.
    const result = said?.result ?? (end.result === 'partly' ? null : end.result);
    if (result !== null)
      await stores.rows.update('work_order_task', String(task['id']), {
        result,
        reason: result === 'not_done' ? (said?.reason ?? end.reason) : null,
      });
  }
  await stores.rows.update('attempt', String(attempt['id']), {
    ended_at: end.endedAt,
    result: end.result,
    reason: end.reason,
    pump_restored: end.pumpRestored,
    flow_proven: end.flowProven,
    water_went_to: end.waterWentTo,
    note: end.note,
  });
  for (const stop of await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'live', is: '=', value: true },
  ])) {
    if (end.result !== 'done' && end.result !== 'not_needed')
      await stores.rows.update('stop', String(stop['id']), { live: false });
  }
  const finished = end.result === 'done' || end.result === 'not_needed';
  // Partly or not done: the order waits for its next place; the night plans it again.
  const change = finished ? { state: 'done', done_at: end.endedAt } : { state: 'wanted', started_at: null };
  if (!finished) {
    for (const task of tasks) {
      const said = end.tasks.find((each) => each.id === task['id']);
      if ((said?.result ?? end.result) !== 'done')
        await stores.rows.update('work_order_task', String(task['id']), { result: null, reason: null });
    }
  }
  return (await stores.rows.update('work_order', id, change)) ?? order;
}

function refuseUnfinished(end: AttemptEnd, startedAt: string, tasks: readonly Row[]): void {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `#/${field}`, detail, remedy });
  if (Date.parse(end.endedAt) < Date.parse(startedAt))
    fault('endedAt', 'lies before the start', 'the moment the crew left');
  if ((end.result === 'not_done') !== (end.reason !== null))
    fault(
      'reason',
      end.reason === null ? 'is missing' : 'goes with not_done only',
      'say why with not_done, and leave it out otherwise',
    );
  for (const [i, task] of end.tasks.entries()) {
    if (!tasks.some((each) => each['id'] === task.id))
      fault(`tasks/${i}/id`, 'is no task of this order', 'the id of one of its tasks');
    if ((task.result === 'not_done') !== (task.reason !== null))
      fault(`tasks/${i}/reason`, 'goes with not_done', 'say why with not_done only');
  }
  if (end.result === 'done') {
    const pump = end.pumpRestored;
    if (pump === null || !(pump.powerOn && pump.valveOpen && pump.floatCycled && pump.lidBack)) {
      if (tasks.some((task) => task['pit_id'] !== null))
        fault(
          'pumpRestored',
          'the pump is not restored',
          'power on, valve open, float cycled, lid back: all four',
        );
    }
    if (end.flowProven === null) fault('flowProven', 'is not answered', 'yes, no, or not_possible');
    if (end.waterWentTo === null) fault('waterWentTo', 'is missing', 'say where the flushed water went');
  }
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'attempt-end', faults });
}
