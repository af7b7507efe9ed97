import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { TaskKind } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { giveUpOrder } from './withdrawal.js';

interface Work {
  siteId: unknown;
  /** Null: on a pit; a decision that names lines does not concern it. */
  lineId: unknown;
  task: TaskKind;
}

/** Whether a client's decision in force keeps a piece of work from being raised. */
export async function isRefused(stores: Stores, work: Work, today: IsoDate): Promise<boolean> {
  return (await refusals(stores, work, today)).length > 0;
}

/** The client's decisions in force against a piece of work. */
export async function refusals(stores: Stores, work: Work, today: IsoDate): Promise<Row[]> {
  const decisions = await stores.rows.all('decision', [
    { column: 'site_id', is: '=', value: work.siteId },
    { column: 'ended_on', is: 'null' },
  ]);
  return decisions.filter((decision) => isInForce(decision, today) && concerns(decision, work));
}

const isInForce = (decision: Row, today: IsoDate): boolean =>
  decision['until_day'] === null || String(decision['until_day']) >= today;

function concerns(decision: Row, { lineId, task }: Pick<Work, 'lineId' | 'task'>): boolean {
  const lines = decision['line_ids'] as string[];
  if (lines.length > 0 && (lineId === null || !lines.includes(String(lineId)))) return false;
  return decision['task'] === null || decision['task'] === task;
}

/** Whether an order is about the refused work alone: looks on the way and the pit's own tasks do not save it. */
const isAllRefused = (decision: Row, tasks: readonly Row[]): boolean => {
  const work = tasks.filter((task) => task['line_id'] !== null && task['kind'] !== 'inspect');
  return (
    work.length > 0 &&
    work.every((task) => concerns(decision, { lineId: task['line_id'], task: task['kind'] as TaskKind }))
  );
};

/** Work the service raised by itself and nobody began is withdrawn when the client decides against all of it. */
export async function heedDecision(stores: Stores, decision: Row): Promise<void> {
  if (decision['ended_on'] !== null) return;
  const orders = await stores.rows.all('work_order', [
    { column: 'site_id', is: '=', value: decision['site_id'] },
    { column: 'state', is: 'in', value: ['wanted', 'placed'] },
    { column: 'cause', is: 'in', value: ['due', 'first_survey'] },
  ]);
  for (const order of orders) {
    const tasks = await stores.rows.all('work_order_task', [
      { column: 'work_order_id', is: '=', value: order['id'] },
    ]);
    const wanted = String(order['wanted_by'] ?? decision['decided_on']);
    if (!isInForce(decision, wanted) || !isAllRefused(decision, tasks)) continue;
    await giveUpOrder(stores, order, `${String(decision['kind'])} by ${String(decision['decided_by'])}`);
  }
}
