import { v7 as newId } from 'uuid';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';

/** Writes the tasks of a new order in their order; a dig over several days says which part each is. */
export async function insertTasks(
  stores: Stores,
  workOrderId: string,
  tasks: readonly (Pick<PlannedTask, 'kind' | 'lineId' | 'pitId' | 'minutes'> & {
    plan: object;
    part?: number;
  })[],
): Promise<void> {
  for (const [i, task] of tasks.entries())
    await stores.rows.insert('work_order_task', {
      id: newId(),
      work_order_id: workOrderId,
      position: i + 1,
      kind: task.kind,
      line_id: task.lineId,
      pit_id: task.pitId,
      minutes: task.minutes,
      plan: task.plan,
      part: task.part ?? 1,
    });
}
