import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { SyncWork } from './syncWork.js';

/**
 * What an item rests on, as `kind:id`: `start` of an order, a `line`, `task` or `inspection` on record, the `price` of
 * a task taken by somebody, another `item` settled. Only what an app itself sends can come later; what else is missing
 * is refused by the action.
 */
export type Need = `${'start' | 'line' | 'task' | 'inspection' | 'price' | 'item'}:${string}`;

export const need = (kind: Need extends `${infer K}:${string}` ? K : never, id: string): Need =>
  `${kind}:${id}`;

const lines = (...ids: (string | null)[]): Need[] =>
  ids.flatMap((id) => (id === null ? [] : [need('line', id)]));

export function needsOf(work: SyncWork): Need[] {
  switch (work.kind) {
    case 'start':
      return [];
    case 'finish':
      return [need('start', work.workOrderId)];
    case 'task_result':
      return [need('start', work.workOrderId), need('task', work.said.taskId)];
    case 'found_work':
      return [
        need('start', work.found.workOrderId),
        ...lines(...work.found.tasks.map(({ lineId }) => lineId)),
        ...work.found.tasks
          .filter(({ priceMinor }) => (priceMinor ?? 0) > 0 && work.found.accepted === null)
          .map(({ id }) => need('price', id)),
      ];
    case 'inspection':
      return [
        ...lines(work.found.lineId),
        ...(work.found.replacesId === null ? [] : [need('inspection', work.found.replacesId)]),
      ];
    case 'clean':
      return lines(work.clean.lineId);
    case 'found_line':
      return lines(work.found.drainsToLineId);
    case 'found_access_point':
      return lines(work.found.lineId);
    case 'price_acceptance':
      return work.price.taskId === null ? [] : [need('task', work.price.taskId)];
    case 'attachment':
      return [
        ...lines(work.attachment.lineId),
        ...(work.attachment.inspectionId === null ? [] : [need('inspection', work.attachment.inspectionId)]),
      ];
    case 'note':
      return lines(work.note.lineId);
    default:
      return work satisfies never;
  }
}

/** What others may have waited for, once an item is settled. */
export function bringsOf(id: string, work: SyncWork): Need[] {
  const own: Need[] = [need('item', id)];
  switch (work.kind) {
    case 'start':
      return [...own, need('start', work.workOrderId)];
    case 'found_work':
      return [...own, ...work.found.tasks.map((task) => need('task', task.id))];
    case 'found_line':
      return [...own, need('line', id)];
    case 'inspection':
      return [...own, need('inspection', id)];
    case 'price_acceptance':
      return work.price.taskId === null ? own : [...own, need('price', work.price.taskId)];
    default:
      return own;
  }
}

/** Of what an item needs, what has not come. */
export async function unmet(stores: Stores, needs: readonly Need[], at: string): Promise<Need[]> {
  const open: Need[] = [];
  for (const each of needs) if (!(await hasCome(stores, each, at))) open.push(each);
  return open;
}

const TABLES = { line: 'line', task: 'work_order_task', inspection: 'inspection' } as const;

async function hasCome(stores: Stores, each: Need, at: string): Promise<boolean> {
  const [kind, id = ''] = each.split(':');
  switch (kind) {
    case 'start':
      return hasBegun(stores, id, at);
    case 'item':
      return stores.sync.isSettled(id);
    case 'price':
      return (await stores.sync.priceOf(id)) !== null;
    default:
      return (await stores.rows.get(TABLES[kind as keyof typeof TABLES], id)) !== null;
  }
}

/** A visit that goes on, one that went on at that moment, or an order past all visits: what is done then is refused. */
async function hasBegun(stores: Stores, workOrderId: string, at: string): Promise<boolean> {
  const order = await stores.rows.get('work_order', workOrderId);
  if (order === null || order['state'] === 'done' || order['state'] === 'withdrawn') return true;
  const attempts = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: workOrderId },
  ]);
  return attempts.some((attempt) => !endedBefore(attempt, at));
}

const endedBefore = ({ ended_at: end }: Row, at: string): boolean =>
  end !== null && Date.parse(String(end)) < Date.parse(at);
