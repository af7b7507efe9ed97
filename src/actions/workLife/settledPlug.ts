import type { TaskKind } from '../../domain/words.js';
import { cleans } from '../../domain/work/cleaningTasks.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { giveUpOrder } from './withdrawal.js';

/**
 * What a plug raised and nobody began ends once the line is known to run: opened by a clean on record, or the find was
 * withdrawn. Work begun is finished; a dig, once ordered, is the office's to withdraw.
 */
export async function settlePlug(stores: Stores, lineId: string, because: string): Promise<void> {
  if ((await stores.workLife.pluggedNow(lineId)) !== null) return;
  const tasks = await stores.rows.all('work_order_task', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'open', is: '=', value: true },
  ]);
  for (const orderId of new Set(tasks.map((task) => String(task['work_order_id'])))) {
    const order = await stores.rows.lock('work_order', orderId);
    if (order !== null && (await isOfThePlugAlone(stores, order, lineId)))
      await giveUpOrder(stores, order, because);
  }
}

async function isOfThePlugAlone(stores: Stores, order: Row, lineId: string): Promise<boolean> {
  if (order['cause'] !== 'plugged' || (order['state'] !== 'wanted' && order['state'] !== 'placed'))
    return false;
  const id = String(order['id']);
  const [tasks, attempts] = [
    await stores.rows.all('work_order_task', [{ column: 'work_order_id', is: '=', value: id }]),
    await stores.rows.count('attempt', [{ column: 'work_order_id', is: '=', value: id }]),
  ];
  return (
    attempts === 0 &&
    tasks.every((task) => task['line_id'] === lineId && opensOrLooks(task['kind'] as TaskKind))
  );
}

const opensOrLooks = (task: TaskKind): boolean =>
  cleans(task) || task === 'inspect' || task === 'add_cleanout';
