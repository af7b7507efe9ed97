import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type FieldFault, Refused } from '../problems.js';
import type { AttemptEnd } from './attemptEnd.js';
import type { ReplacedRun } from './replaceRun.js';

/**
 * What an attempt's end must say. Done needs three things only: pump restored, flow proven answered, where the water
 * went; and nobody closes a trench over a line that was not proven.
 *
 * @throws {Refused} `rule-broken`, naming each field.
 */
export async function refuseUnfinished(
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
