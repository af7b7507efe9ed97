import type { TaskKind } from '../../domain/words.js';
import { closesTrench, type PartOfDig } from '../../domain/work/digPlan.js';
import type { PlannedRun } from '../../domain/work/replacement.js';
import { tracedFaults } from '../../domain/work/tracedRun.js';
import { wasCheckedOpen } from '../../domain/work/trenchRules.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type FieldFault, Refused } from '../problems.js';
import {
  type AttemptEnd,
  digOf,
  flowOf,
  linesOf,
  replacedBy,
  resultOf,
  type SaidReplaced,
} from './attemptEnd.js';
import { sendsWater } from './dischargePlans.js';
import { endStopFaults } from './hardStops.js';
import { pumpFault } from './pumpAsked.js';
import { TRENCHES } from './startChecks.js';
import { checkOnRecord, rainAt } from './trenchChecks.js';
import { noneFaults } from './water.js';

/**
 * What an attempt's end must say. Done needs three things only: pump restored, flow proven answered, where the water
 * went after a flush; and nobody closes a trench over a line that was not proven. The pump is asked after however the
 * visit ended.
 *
 * @throws {Refused} `rule-broken`, naming each field.
 */
export async function refuseUnfinished(
  house: House,
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
  // Whoever leaves for gas leaves; nothing that was said before keeps that from being heard.
  if (end.result === 'not_done' && end.reason === 'gas') {
    if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'attempt-end', faults });
    return;
  }
  for (const [i, run] of (end.replaced ?? []).entries()) refuseRun(run, i, tasks, fault);
  refuseUnsaidRun(end, tasks, fault);
  await refuseFound(stores, end, tasks, fault);
  const pump = await pumpFault(stores, end, tasks);
  if (pump !== null) fault(pump.field, pump.detail, pump.remedy);
  const done = tasks.filter((task) => resultOf(end, task).result === 'done');
  if (end.result === 'done' && end.flowProven === null)
    fault('flowProven', 'is not answered', 'yes, no, or not_possible');
  refuseUnsaidWater(end, tasks, fault);
  await refuseNoOfNoLine(stores, order, end, tasks, done, fault);
  faults.push(...(await endStopFaults(stores, done, end.endedAt)));
  const closing = done.filter((task) => closesTrench(task['kind'] as TaskKind, task['plan'] as PartOfDig));
  if (closing.some((task) => flowOf(end, task, tasks) !== 'yes'))
    await refuseUnproven(stores, order, startedAt, fault);
  await refuseUnseenTrench(house, stores, order, end, startedAt, done, fault);
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'attempt-end', faults });
}

type Fault = (field: string, detail: string, remedy: string) => void;

function refuseRun(run: SaidReplaced, i: number, tasks: readonly Row[], fault: Fault): void {
  if (digOf(run.lineId, tasks) === undefined)
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
      'both ends from upstream, or neither as planned, or "whole": true',
    );
  if (run.whole && (run.fromM !== null || run.toM !== null))
    fault(`replaced/${i}/whole`, 'goes without from and to', 'one of both');
  const went = replacedBy(run, tasks);
  if ('missing' in went)
    for (const field of went.missing)
      fault(
        `replaced/${i}/${field}`,
        'is neither said nor planned',
        field === 'from' || field === 'to'
          ? 'from where to where, from upstream, or "whole": true where the line is new from end to end'
          : 'what went in',
      );
}

/** A dig that is done says what went in: the old pipe is gone from the books then, and no sooner. */
function refuseUnsaidRun(end: AttemptEnd, tasks: readonly Row[], fault: Fault): void {
  if (end.replaced !== null && end.replaced.length === 0) return;
  const dug = tasks.filter(
    (task) => task['kind'] === 'dig_and_replace' && resultOf(end, task).result === 'done',
  );
  for (const { line_id: lineId, plan } of dug) {
    if (end.replaced?.some((run) => run.lineId === lineId)) continue;
    fault(
      'replaced',
      `does not say what went into line ${String(lineId)}, from where to where`,
      runRemedy(String(lineId), plan as PlannedRun),
    );
  }
}

function runRemedy(lineId: string, { fromM, toM, newProduct, newNominal }: PlannedRun): string {
  const pipe = newProduct === undefined ? '' : `${newProduct.replaceAll('_', ' ')} ${newNominal ?? ''}, `;
  const nothing = '[] where nothing was replaced';
  return fromM == null || toM == null
    ? `[{"lineId":"${lineId}","from":…,"to":…}], or "whole":true instead of ends; planned: ${pipe}ends unknown; ${nothing}`
    : `[{"lineId":"${lineId}"}] for what was planned: ${pipe}${fromM.toFixed(1)} m to ${toM.toFixed(1)} m; from, to, material and bore say otherwise; ${nothing}`;
}

async function refuseFound(
  stores: Stores,
  end: AttemptEnd,
  tasks: readonly Row[],
  fault: Fault,
): Promise<void> {
  for (const [i, { id, found }] of end.tasks.entries()) {
    const lineId = tasks.find((task) => task['id'] === id)?.['line_id'] ?? null;
    if (found === null || lineId === null) continue;
    const length = (await stores.rows.get('line', String(lineId)))?.['length_m'] ?? null;
    for (const { field, detail, remedy } of tracedFaults(found, length === null ? null : Number(length)))
      fault(`tasks/${i}/found/${field}`, detail, remedy);
  }
}

/** Whatever was flushed, wholly or in part, went somewhere; who left because of gas is not asked. */
function refuseUnsaidWater(end: AttemptEnd, tasks: readonly Row[], fault: Fault): void {
  if (end.reason === 'gas') return;
  if (end.water !== null) {
    const done = tasks.filter((task) => resultOf(end, task).result === 'done');
    const kinds = done.map((task) => task['kind'] as TaskKind);
    for (const { field, detail, remedy } of noneFaults(end.water, kinds))
      fault(`water/${field}`, detail, remedy);
    return;
  }
  const flushes = tasks.filter((task) => sendsWater([task['kind'] as TaskKind]));
  const isSaid = (task: Row) =>
    task['result'] !== null || end.tasks.some((each) => each.id === task['id']) || end.result !== 'partly';
  const began = flushes.filter((task) => ['done', 'partly'].includes(resultOf(end, task).result));
  if (began.length === 0 && flushes.every(isSaid)) return;
  fault(
    'water',
    'is missing',
    'who took the flushed water, such as {"receiver":"caught","sludgeTo":"depot"}, or {"receiver":"none"} where nothing was flushed; waterWentTo is a note only',
  );
}

/** Of a visit to several lines a no says which line does not carry: on its task, or on its clean. */
async function refuseNoOfNoLine(
  stores: Stores,
  order: Row,
  end: AttemptEnd,
  tasks: readonly Row[],
  done: readonly Row[],
  fault: Fault,
): Promise<void> {
  for (const [i, { id, flowProven }] of end.tasks.entries())
    if (flowProven !== null && tasks.find((task) => task['id'] === id)?.['line_id'] === null)
      fault(`tasks/${i}/flowProven`, 'is of a task on a pit', 'leave it out: flow is proven on a line');
  if (end.flowProven !== 'no' || linesOf(done).length < 2) return;
  if (end.tasks.some(({ flowProven }) => flowProven === 'no')) return;
  const written = await stores.rows.all('clean', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'flow_proven', is: '=', value: 'no' },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  if (written.length > 0) return;
  fault(
    'flowProven',
    'is no of a visit to several lines, and of which is not said',
    'flowProven on the task of each line that does not carry: tasks[].flowProven',
  );
}

async function refuseUnproven(stores: Stores, order: Row, startedAt: string, fault: Fault): Promise<void> {
  if (await wasLookedAt(stores, order, startedAt)) return;
  fault(
    'flowProven',
    'the trench was closed over a line nobody proved',
    'flow proven before backfill, or a camera inspection of this visit',
  );
}

/** Nobody works in an open trench on a check from before it was opened. */
async function refuseUnseenTrench(
  house: House,
  stores: Stores,
  order: Row,
  end: AttemptEnd,
  startedAt: string,
  done: readonly Row[],
  fault: Fault,
): Promise<void> {
  const digs = done.filter((task) => TRENCHES.includes(task['kind'] as TaskKind));
  if (digs.length === 0) return;
  const rows = await stores.rows.all('trench_check', [
    { column: 'work_order_id', is: '=', value: order['id'] },
  ]);
  const checks = rows.map((row) => checkOnRecord(house, row));
  const rain = await rainAt(stores, order, end.endedAt);
  const over = {
    atMs: Date.parse(end.endedAt),
    day: house.zone.dayOf(new Date(end.endedAt)),
    startedMs: Date.parse(startedAt),
    lastRainMs: rain,
  };
  const deepest = (task: Row) =>
    end.tasks.find((each) => each.id === task['id'])?.dugToM ?? tracedDepth(task);
  if (digs.every((task) => wasCheckedOpen(checks, over, deepest(task)))) return;
  fault(
    'tasks',
    rain === null
      ? 'the open trench has no check that passed on this visit'
      : `the open trench has no check that passed on this visit since the rain that ended at ${new Date(rain).toISOString()}`,
    'what a competent person saw once it was open, as deep as it was dug: POST …/trench-checks',
  );
}

const tracedDepth = (task: Row): number | null => {
  const { depthM, assumed } = task['plan'] as { depthM?: number; assumed?: string[] };
  return depthM === undefined || assumed?.includes('depth') ? null : depthM;
};

async function wasLookedAt(stores: Stores, order: Row, startedAt: string): Promise<boolean> {
  const seen = await stores.rows.all('inspection', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'method', is: '=', value: 'camera' },
    { column: 'observed_at', is: '>=', value: startedAt },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  return seen.length > 0;
}
