import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../domain/calendar/isoDate.js';
import type { AttemptResult, FlowProven, NotDoneReason, TaskKind, WorkOrderState } from '../domain/words.js';
import { afterNotDone, TRIES_BEFORE_ESCALATION } from '../domain/work/notDone.js';
import { endEvent } from '../domain/work/orderLife.js';
import type { House, Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused } from './problems.js';
import { climb } from './workLife/climb.js';
import { makeLinkedOrder } from './workLife/linkedOrder.js';
import { lockFor } from './workLife/orderLock.js';
import { type ReplacedRun, replaceRun } from './workLife/replaceRun.js';
import { orderCautions, refuseStart } from './workLife/startChecks.js';
import { recordWater, type WaterGone } from './workLife/water.js';

/** The crew is on site and has seen its cautions: an attempt begins. */
export async function startWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  startedAt: string,
  cautionsSeen = false,
): Promise<Row> {
  const { order, next } = await lockFor(house, stores, actor, id, startedAt, 'start');
  await refuseStart(house, stores, order, startedAt, cautionsSeen);
  const [stop] = await stores.rows.all('stop', liveStopOf(id));
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
    cautions_seen: cautionsSeen ? (await orderCautions(stores, order)).map(({ code }) => code) : [],
  });
  return (await stores.rows.update('work_order', id, { state: next, started_at: startedAt })) ?? order;
}

const liveStopOf = (id: string) => [
  { column: 'work_order_id', is: '=' as const, value: id },
  { column: 'live', is: '=' as const, value: true },
];

export interface TaskEnd {
  id: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  takenMinutes: number | null;
  /** What a trace found: from where to where to dig, and how deep. */
  found: { fromM: number | null; toM: number | null; depthM: number | null } | null;
}

export interface AttemptEnd {
  endedAt: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  /** A refusal is a decision on record: by whom, which risk was told, until when (null: for good). */
  refusal: { by: string; riskTold: string; untilDay: IsoDate | null } | null;
  pumpRestored: { powerOn: boolean; valveOpen: boolean; floatCycled: boolean; lidBack: boolean } | null;
  flowProven: FlowProven | null;
  waterWentTo: string | null;
  water: WaterGone | null;
  note: string | null;
  tasks: TaskEnd[];
  replaced: ReplacedRun[];
}

/**
 * Ends the attempt, and in the same transaction all that follows from it: the next place of work not done, return
 * work, the next rung, a decision, new sections. Done needs three things only: pump restored, flow proven answered,
 * where the water went.
 */
export async function finishWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  end: AttemptEnd,
): Promise<Row> {
  const event = endEvent(end.result, end.reason === 'refused');
  const { order, next } = await lockFor(house, stores, actor, id, end.endedAt, event);
  const [attempt] = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  if (!attempt) throw new RangeError(`order ${id} is under way without an attempt`);
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  await refuseUnfinished(stores, order, end, String(attempt['started_at']), tasks);

  const day = house.zone.dayOf(new Date(end.endedAt));
  await endTasks(stores, end, tasks);
  await stores.rows.update('attempt', String(attempt['id']), {
    ended_at: end.endedAt,
    result: end.result,
    reason: end.reason,
    pump_restored: end.pumpRestored,
    flow_proven: end.flowProven,
    water_went_to: end.waterWentTo ?? end.water?.place ?? null,
    billed: await billedFor(stores, id, day, end),
    note: end.note,
  });
  if (end.water !== null) await recordWater(house, stores, actor, order, end.water, end.endedAt);
  if (next !== 'done')
    for (const stop of await stores.rows.all('stop', liveStopOf(id)))
      await stores.rows.update('stop', String(stop['id']), { live: false });
  const ended =
    (await stores.rows.update('work_order', id, await endOfOrder(stores, id, end, next, day))) ?? order;
  if (next === 'done') await afterDone(stores, actor, ended, end, day);
  return ended;
}

/** What an unnamed task's result is: that of the visit; of one partly done nothing is known, so it is left. */
const resultOf = (end: AttemptEnd, task: Row): { result: AttemptResult; reason: NotDoneReason | null } => {
  const said = end.tasks.find((each) => each.id === task['id']);
  if (said) return said;
  return end.result === 'partly'
    ? { result: 'not_done', reason: end.reason ?? 'out_of_time' }
    : { result: end.result, reason: end.reason };
};

async function endTasks(stores: Stores, end: AttemptEnd, tasks: readonly Row[]): Promise<void> {
  const stays = end.result === 'not_done' && end.reason !== 'refused';
  for (const task of tasks) {
    const { result, reason } = resultOf(end, task);
    const said = end.tasks.find((each) => each.id === task['id']);
    // Work not done stays open in its order; what was done of it all the same is done.
    const isOpen = stays && result !== 'done' && result !== 'not_needed';
    await stores.rows.update('work_order_task', String(task['id']), {
      result: isOpen ? null : result,
      reason: !isOpen && result === 'not_done' ? (reason ?? end.reason ?? 'out_of_time') : null,
      taken_minutes: said?.takenMinutes ?? null,
      ...(said?.found ? { plan: { ...(task['plan'] as object), found: said.found } } : {}),
    });
  }
}

/** Whether the trip is billed: what the reason says where the client had been told this day. */
async function billedFor(stores: Stores, id: string, day: IsoDate, end: AttemptEnd): Promise<string> {
  if (end.result !== 'not_done' || end.reason === null) return 'yes';
  const told = await stores.rows.all('promise', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  return told.some((promise) => promise['day'] === day) ? afterNotDone(end.reason).billedWhenPromised : 'no';
}

async function endOfOrder(
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
    return { state: next, withdrawn_because: `refused by ${end.refusal?.by ?? 'the client'}` };
  }
  const reason = end.reason ?? 'out_of_time';
  const after = afterNotDone(reason);
  const notBefore = addDays(day, after.againInDays);
  if (after.opens !== null)
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: id,
      kind: after.opens,
      facts: { because: reason },
    });
  if (reason === 'outlet_not_found') await addTrace(stores, id);
  const tries = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'reason', is: '=', value: reason },
  ]);
  if (tries.length >= TRIES_BEFORE_ESCALATION)
    await stores.night.event(
      newId(),
      'order_tried_in_vain',
      id,
      `order_tried_in_vain:${id}:${tries.length}`,
      { reason, tries: tries.length },
    );
  const order = (await stores.rows.get('work_order', id)) ?? {};
  const wantedBy = order['wanted_by'] === null ? null : String(order['wanted_by']);
  return {
    state: next,
    started_at: null,
    not_before: notBefore,
    ...(wantedBy !== null && wantedBy < notBefore ? { wanted_by: notBefore } : {}),
  };
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

const CLEANS: readonly TaskKind[] = [
  'hose_flush',
  'jet',
  'cable',
  'clear_outlet',
  'replace_outlet',
  'clear_pit',
];

/** All that follows from work that is done. */
async function afterDone(
  stores: Stores,
  actor: Actor,
  order: Row,
  end: AttemptEnd,
  day: IsoDate,
): Promise<void> {
  const id = String(order['id']);
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  const attempts = await stores.rows.all(
    'attempt',
    [{ column: 'work_order_id', is: '=', value: id }],
    'started_at',
  );
  const crewId = attempts.at(-1)?.['crew_id'] ?? null;
  for (const task of tasks.filter((each) => each['result'] === 'done')) {
    if (isClean(task)) await keepClean(stores, actor, task, end, crewId);
    if (task['kind'] === 'test_pump')
      await stores.rows.update('pit', String(task['pit_id']), { last_tested_on: day });
  }
  for (const [i, run] of end.replaced.entries()) await replaceRun(stores, run, day, `#/replaced/${i}`);
  if (end.result === 'partly') await returnFor(stores, order, tasks, end, day);
  const lines = new Set(tasks.flatMap((task) => (task['line_id'] === null ? [] : [String(task['line_id'])])));
  for (const lineId of lines) await climb(stores, lineId, { orderId: id, today: day });
}

/** A dig counts as a clean once its last part is closed over a line that was proven. */
const isClean = (task: Row): boolean =>
  CLEANS.includes(task['kind'] as TaskKind) ||
  (task['kind'] === 'dig_and_replace' &&
    Boolean((task['plan'] as { beforeBackfill?: unknown }).beforeBackfill));

/** A clean without a reading is still a clean: a done task that nobody wrote a clean for makes one. */
async function keepClean(
  stores: Stores,
  actor: Actor,
  task: Row,
  end: AttemptEnd,
  crewId: unknown,
): Promise<void> {
  const on = task['line_id'] === null ? 'pit_id' : 'line_id';
  const written = await stores.rows.all('clean', [
    { column: 'work_order_id', is: '=', value: task['work_order_id'] },
    { column: on, is: '=', value: task[on] },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  if (written.length > 0) return;
  await stores.rows.insert('clean', {
    id: newId(),
    [on]: task[on],
    cleaned_at: end.endedAt,
    received_at: end.endedAt,
    author: actor.name,
    crew_id: crewId,
    work_order_id: task['work_order_id'],
    task: task['kind'],
    flow_proven: end.flowProven,
    water_went_to: end.waterWentTo,
  });
}

/** What was left undone returns as an order of its own that says what it returns for. */
async function returnFor(
  stores: Stores,
  order: Row,
  tasks: readonly Row[],
  end: AttemptEnd,
  day: IsoDate,
): Promise<void> {
  const left = tasks.filter((task) => task['result'] === 'not_done' || task['result'] === 'partly');
  if (left.length === 0) return;
  const reason = (left[0]?.['reason'] as NotDoneReason | null) ?? end.reason ?? 'out_of_time';
  const after = afterNotDone(reason);
  const words = left.map((task) => String(task['kind']).replaceAll('_', ' ')).join(', ');
  await makeLinkedOrder(
    stores,
    {
      siteId: String(order['site_id']),
      cause: 'return_work',
      becauseOf: [
        {
          code: 'left_undone',
          facts: { orderNumber: order['number'], reason },
          text: `left undone on order ${String(order['number'])} (${reason.replaceAll('_', ' ')}): ${words}`,
        },
      ],
      tasks: left.map((task) => ({
        kind: task['kind'] as TaskKind,
        lineId: task['line_id'] === null ? null : String(task['line_id']),
        pitId: task['pit_id'] === null ? null : String(task['pit_id']),
        part: Number(task['part']),
        plan: task['plan'] as object,
      })),
      notBefore: addDays(day, after.againInDays),
      wantedBy: null,
      followsId: null,
      followsAfterDays: 0,
      returnsForId: String(order['id']),
      // Our own want of kit or time costs the client nothing more.
      priceBasis: after.billedWhenPromised === 'yes' ? String(order['price_basis']) : 'goodwill',
      waitsFor: after.opens === null ? [] : [after.opens],
    },
    day,
  );
}

async function refuseUnfinished(
  stores: Stores,
  order: Row,
  end: AttemptEnd,
  startedAt: string,
  tasks: readonly Row[],
): Promise<void> {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `#/${field}`, detail, remedy });
  if (Date.parse(end.endedAt) < Date.parse(startedAt))
    fault('endedAt', 'lies before the start', 'the moment the crew left');
  if (
    (end.result === 'not_done') !== (end.reason !== null) &&
    !(end.result === 'partly' && end.reason !== null)
  )
    fault(
      'reason',
      end.reason === null ? 'is missing' : 'goes with not_done or partly only',
      'say why with not_done, and leave it out when all was done',
    );
  if (
    end.result === 'not_done' &&
    end.reason === 'refused' &&
    (end.refusal === null || end.refusal.riskTold.trim() === '')
  )
    fault('refusal', 'is missing', 'who refused and which risk was told: a decision on record');
  if (end.refusal !== null && end.reason !== 'refused')
    fault('refusal', 'goes with the reason refused', 'leave it out');
  for (const [i, task] of end.tasks.entries()) {
    if (!tasks.some((each) => each['id'] === task.id))
      fault(`tasks/${i}/id`, 'is no task of this order', 'the id of one of its tasks');
    if ((task.result === 'not_done') !== (task.reason !== null))
      fault(`tasks/${i}/reason`, 'goes with not_done', 'say why with not_done only');
  }
  for (const [i, run] of end.replaced.entries()) refuseRun(run, i, tasks, fault);
  if (end.result === 'done') await refuseHalfDone(stores, order, end, startedAt, tasks, fault);
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'attempt-end', faults });
}

type Fault = (field: string, detail: string, remedy: string) => void;

function refuseRun(run: ReplacedRun, i: number, tasks: readonly Row[], fault: Fault): void {
  const digs = tasks.some((task) => task['kind'] === 'dig_and_replace' && task['line_id'] === run.lineId);
  if (!digs)
    fault(
      `replaced/${i}/lineId`,
      'is not dug in this order',
      'a line with a dig_and_replace task of this order',
    );
  if (
    (run.fromM === null) !== (run.toM === null) ||
    (run.fromM !== null && run.toM !== null && run.toM <= run.fromM)
  )
    fault(
      `replaced/${i}/to`,
      'does not lie beyond from',
      'both ends in metres from upstream, or neither for the whole line',
    );
}

async function refuseHalfDone(
  stores: Stores,
  order: Row,
  end: AttemptEnd,
  startedAt: string,
  tasks: readonly Row[],
  fault: Fault,
): Promise<void> {
  const pump = end.pumpRestored;
  const restored = pump?.powerOn && pump.valveOpen && pump.floatCycled && pump.lidBack;
  if (!restored && tasks.some((task) => task['pit_id'] !== null))
    fault(
      'pumpRestored',
      'the pump is not restored',
      'power on, valve open, float cycled, lid back: all four',
    );
  if (end.flowProven === null) fault('flowProven', 'is not answered', 'yes, no, or not_possible');
  if (end.waterWentTo === null && end.water === null)
    fault('waterWentTo', 'is missing', 'say where the flushed water went');
  const backfills = tasks.some(
    (task) =>
      task['kind'] === 'dig_and_replace' && (task['plan'] as { beforeBackfill?: unknown }).beforeBackfill,
  );
  if (backfills && end.flowProven !== 'yes' && !(await wasLookedAt(stores, order, startedAt)))
    fault(
      'flowProven',
      'the trench was closed over a line nobody proved',
      'flow proven before backfill, or a camera inspection of this visit',
    );
}

async function wasLookedAt(stores: Stores, order: Row, startedAt: string): Promise<boolean> {
  const seen = await stores.rows.all('inspection', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'method', is: '=', value: 'camera' },
    { column: 'observed_at', is: '>=', value: startedAt },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  return seen.length > 0;
}
