import type { AttemptResult, NotDoneReason } from '../../domain/words.js';
import { type TracedRun, tracedFaults } from '../../domain/work/tracedRun.js';
import type { House, Stores } from '../house.js';
import { authorId, mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { gasVisitAt } from './gasVisit.js';
import { keepOtherWord } from './otherWords.js';

/** What somebody on site said of a task while the visit went on. */
export interface NewTaskResult {
  id: string;
  taskId: string;
  saidAt: string;
  result: AttemptResult;
  reason: NotDoneReason | null;
  takenMinutes: number | null;
  found: TracedRun | null;
}

/**
 * Keeps what was said and lets the last word, by the device's time, be the task's result. Another person's word that
 * says otherwise is kept as a conflict: two phones of one crew may both be right about something.
 *
 * @throws {Refused} No visit under way, a reason without `not_done`.
 */
export async function recordTaskResult(
  house: House,
  stores: Stores,
  actor: Actor,
  said: NewTaskResult,
): Promise<Row> {
  const known = await stores.rows.get('work_order_task', said.taskId);
  if (!known) throw new Refused({ code: 'not-found', resource: 'work_order_task', id: said.taskId });
  const order = await stores.rows.lock('work_order', String(known['work_order_id']));
  if (!order) throw new RangeError(`task ${said.taskId} has no order`);
  await mayWorkOnOrder(house, stores, actor, order, said.saidAt);
  if (liesAhead(house, said.saidAt))
    throw ruleBroken(
      'task-result',
      '#/saidAt',
      `${said.saidAt} lies in the future`,
      'the moment it was said',
    );
  if ((said.result === 'not_done') !== (said.reason !== null))
    throw ruleBroken('task-result', '#/reason', 'goes with not_done', 'say why with not_done only');
  await refuseFound(stores, known, said.found);
  const left = await gasVisitAt(stores, String(order['id']), said.saidAt);
  const since = left === null ? await visitSince(stores, order, said) : left.since;
  await stores.rows.insert('task_result', {
    id: said.id,
    task_id: said.taskId,
    said_at: said.saidAt,
    author: actor.name,
    author_id: authorId(actor),
    result: said.result,
    reason: said.reason,
    taken_minutes: said.takenMinutes,
    found: said.found,
    received_at: house.clock.now().toISOString(),
  });
  return letLastWordCount(stores, said.taskId, since, left !== null);
}

async function refuseFound(stores: Stores, task: Row, found: TracedRun | null): Promise<void> {
  if (found === null) return;
  const line = task['line_id'] === null ? null : await stores.rows.get('line', String(task['line_id']));
  const faults = tracedFaults(found, line?.['length_m'] == null ? null : Number(line['length_m']));
  if (faults.length > 0)
    throw new Refused({
      code: 'rule-broken',
      rule: 'task-result',
      faults: faults.map(({ field, detail, remedy }) => ({ pointer: `#/found/${field}`, detail, remedy })),
    });
}

/** End of the visit before the one under way. @throws {Refused} `wrong-state` when none is, or it ended before. */
async function visitSince(stores: Stores, order: Row, said: NewTaskResult): Promise<string | null> {
  const attempts = await stores.rows.all(
    'attempt',
    [{ column: 'work_order_id', is: '=', value: order['id'] }],
    'started_at',
  );
  const ended = attempts.flatMap(({ ended_at: end }) => (end === null ? [] : [String(end)])).sort();
  const last = ended.at(-1) ?? null;
  const isUnderWay = attempts.some(({ ended_at: end }) => end === null);
  if (isUnderWay && (last === null || Date.parse(last) < Date.parse(said.saidAt))) return last;
  throw new Refused({
    code: 'wrong-state',
    resource: 'work_order',
    id: String(order['id']),
    state: String(order['state']),
    allowed: ['under_way'],
    detail: 'A task has a result while its visit goes on.',
  });
}

/** @param wasLeft Gas ended the visit: what was not done stays open. */
async function letLastWordCount(
  stores: Stores,
  taskId: string,
  since: string | null,
  wasLeft: boolean,
): Promise<Row> {
  const words = (
    await stores.rows.all('task_result', [
      { column: 'task_id', is: '=', value: taskId },
      ...(since === null ? [] : [{ column: 'said_at', is: '>' as const, value: since }]),
    ])
  ).sort(
    (a, b) =>
      Date.parse(String(a['said_at'])) - Date.parse(String(b['said_at'])) ||
      (String(a['id']) < String(b['id']) ? -1 : 1),
  );
  const last = words.at(-1);
  // A word alone contradicts nobody.
  if (last !== undefined && words.length > 1) for (const word of words) await keepOther(stores, word, last);
  const task = (await stores.rows.get('work_order_task', taskId)) ?? {};
  const change =
    last === undefined || isDeclinedSince(task, last) ? ofNoWord(task) : ofWord(task, last, wasLeft);
  return (await stores.rows.update('work_order_task', taskId, change)) ?? {};
}

/** The client said no to its price after the last word on it. */
const isDeclinedSince = (task: Row, last: Row): boolean =>
  task['declined_at'] !== null &&
  Date.parse(String(task['declined_at'])) >= Date.parse(String(last['said_at']));

/** What nobody on site said anything of is open, unless the client declined it. */
const ofNoWord = (task: Row): Row => ({
  ...(task['declined_at'] === null ? STAYS_OPEN : { result: 'not_done', reason: 'refused' }),
  done_at: null,
  taken_minutes: null,
});

function ofWord(task: Row, { result, reason, taken_minutes, found, said_at }: Row, wasLeft: boolean): Row {
  const isOpen = wasLeft && result === 'not_done';
  return {
    ...(isOpen ? STAYS_OPEN : { result, reason }),
    done_at: result === 'done' ? said_at : null,
    taken_minutes,
    ...(found === null ? {} : { plan: { ...(task['plan'] as object), found } }),
  };
}

/** A task's result anew, after its price was declined or taken after all. */
export async function settleTask(
  stores: Stores,
  taskId: string,
  workOrderId: string,
  at: string,
): Promise<void> {
  const left = await gasVisitAt(stores, workOrderId, at);
  await letLastWordCount(
    stores,
    taskId,
    left === null ? await lastEnd(stores, workOrderId) : left.since,
    left !== null,
  );
}

/**
 * Tasks anew, of a visit that goes on again: by what was said of them since the visit before, else as they were.
 *
 * @param before Rows of the tasks as they were.
 */
export async function settleSince(
  stores: Stores,
  before: readonly Row[],
  since: string | null,
): Promise<void> {
  for (const { id, result, reason, done_at, taken_minutes } of before) {
    const said = await stores.rows.count('task_result', [
      { column: 'task_id', is: '=', value: id },
      ...(since === null ? [] : [{ column: 'said_at', is: '>' as const, value: since }]),
    ]);
    const task = (await stores.rows.get('work_order_task', String(id))) ?? {};
    if (said === 0 && task['declined_at'] === null)
      await stores.rows.update('work_order_task', String(id), { result, reason, done_at, taken_minutes });
    else await letLastWordCount(stores, String(id), since, false);
  }
}

/** When the last visit of an order that is over ended; null: none is. */
async function lastEnd(stores: Stores, workOrderId: string): Promise<string | null> {
  const ended = await stores.rows.all(
    'attempt',
    [
      { column: 'work_order_id', is: '=', value: workOrderId },
      { column: 'ended_at', is: 'not-null' },
    ],
    'ended_at',
  );
  const last = ended.at(-1);
  return last === undefined ? null : String(last['ended_at']);
}

const STAYS_OPEN = { result: null, reason: null };

/** A word of another person that says otherwise than the last one is kept for a person. */
async function keepOther(stores: Stores, word: Row, last: Row): Promise<void> {
  const differs = word['result'] !== last['result'] || word['reason'] !== last['reason'];
  await keepOtherWord(
    stores,
    { resource: 'work_order_task', id: String(word['task_id']) },
    {
      id: String(word['id']),
      author: String(word['author']),
      authorId: String(word['author_id']),
      content: { result: word['result'], reason: word['reason'], saidAt: word['said_at'] },
      heardAt: String(word['received_at']),
    },
    { authorId: String(last['author_id']) },
    differs ? `${String(last['author'])} said ${String(last['result'])} after it` : null,
  );
}
