import { endsVisit } from '../../domain/work/dangers.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { FoundWork } from '../workLife/foundWork.js';
import { isSaidOf } from '../workLife/gasVisit.js';
import { START_NEEDS, type StartNeed, startLacks } from './startGround.js';
import type { SyncWork } from './syncWork.js';

/**
 * What an item rests on, as `kind:id`: `start` of an order, a `line`, `task` or `inspection` on record, the `price` of
 * a task taken by somebody, another `item` settled; of an order to be begun its discharge `plan`, its `quote`, news of
 * its `ticket`, a check of its `trench`. Only what an app itself sends can come later; what else is missing is refused
 * by the action.
 */
export type Need = `${'start' | 'line' | 'task' | 'inspection' | 'price' | 'item' | StartNeed}:${string}`;

export const need = (kind: Need extends `${infer K}:${string}` ? K : never, id: string): Need =>
  `${kind}:${id}`;

const lines = (...ids: (string | null)[]): Need[] =>
  ids.flatMap((id) => (id === null ? [] : [need('line', id)]));

const isAnswered = ({ accepted, declined }: FoundWork): boolean => accepted !== null || declined !== null;

export function needsOf(work: SyncWork): Need[] {
  switch (work.kind) {
    case 'start':
      return START_NEEDS.map((kind) => need(kind, work.workOrderId));
    case 'on_the_way':
    case 'running_late':
    case 'answer':
    case 'discharge_plan':
    case 'ticket_news':
    case 'trench_check':
    case 'incident':
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
          .filter(({ priceMinor }) => (priceMinor ?? 0) > 0 && !isAnswered(work.found))
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
    case 'danger':
      // Gas stops a visit that has begun or not; what stopped hard did so during one.
      return [
        ...(endsVisit(work.danger.kind) ? [] : [need('start', work.danger.workOrderId)]),
        ...lines(work.danger.lineId),
      ];
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
      return [
        ...own,
        work.price.taskId === null ? need('quote', work.price.workOrderId) : need('price', work.price.taskId),
      ];
    case 'discharge_plan':
      return [...own, need('plan', work.plan.workOrderId)];
    case 'ticket_news':
      return [...own, need('ticket', work.workOrderId)];
    case 'trench_check':
      return [...own, need('trench', work.check.workOrderId)];
    default:
      return own;
  }
}

/** What items rest on, each thing looked up once until `changed` tells of it: a call has hundreds of items. */
export interface Ground {
  /** Of what an item needs, what has not come by the moment it happened. */
  unmet(needs: readonly Need[], at: string): Promise<Need[]>;
  /** The last visit of the order that began by then was ended by gas before that moment. */
  wasLeft(workOrderId: string, at: string): Promise<boolean>;
  /** One of these items is a start of the order that is settled. */
  hasStarted(workOrderId: string, itemIds: readonly string[]): boolean;
  /** An item was settled. */
  changed(id: string, work: SyncWork): void;
}

const TABLES = { line: 'line', task: 'work_order_task', inspection: 'inspection' } as const;

/** @param itemIds Items that others name to be settled first. */
export async function openGround(house: House, stores: Stores, itemIds: readonly string[]): Promise<Ground> {
  const settled = await stores.sync.settledOf([...new Set(itemIds)]);
  const starts = await stores.sync.startsOf([...new Set(itemIds)]);
  const known = new Map<Need, Promise<boolean>>();
  const visits = new Map<string, Promise<Row[] | 'over'>>();
  const lacking = new Map<string, Promise<StartNeed[]>>();

  const lookUp = async (each: Need): Promise<boolean> => {
    const [kind, id = ''] = each.split(':');
    if (kind === 'item') return settled.has(id);
    if (kind === 'price') return (await stores.sync.priceOf(id)) !== null;
    return (await stores.rows.get(TABLES[kind as keyof typeof TABLES], id)) !== null;
  };
  const hasCome = async (each: Need, at: string): Promise<boolean> => {
    const [kind, id = ''] = each.split(':');
    if (isOfStart(kind))
      return !(await kept(lacking, `${id} ${at}`, () => startLacks(house, stores, id, at))).includes(kind);
    if (kind !== 'start') return kept(known, each, () => lookUp(each));
    const attempts = await kept(visits, id, () => visitsOf(stores, id));
    return attempts === 'over' || attempts.some((attempt) => isSaidOf(attempt, at));
  };
  return {
    async unmet(needs, at) {
      const open: Need[] = [];
      for (const each of needs) if (!(await hasCome(each, at))) open.push(each);
      return open;
    },
    async wasLeft(workOrderId, at) {
      const attempts = await kept(visits, workOrderId, () => visitsOf(stores, workOrderId));
      if (attempts === 'over') return false;
      const last = attempts.filter((attempt) => !begunAfter(attempt, at)).at(-1);
      return last !== undefined && last['reason'] === 'gas' && endedBy(last, at);
    },
    hasStarted: (workOrderId, ids) => ids.some((id) => starts.get(id) === workOrderId),
    changed(id, work) {
      settled.add(id);
      lacking.clear();
      if (work.kind === 'start') starts.set(id, work.workOrderId);
      for (const each of bringsOf(id, work)) known.delete(each);
      if (work.kind === 'start' || work.kind === 'finish') visits.delete(work.workOrderId);
      if (work.kind === 'danger') visits.delete(work.danger.workOrderId);
    },
  };
}

const isOfStart = (kind: string | undefined): kind is StartNeed => START_NEEDS.some((each) => each === kind);

/** Of things looked up once. */
export function kept<K, V>(map: Map<K, Promise<V>>, key: K, ask: () => Promise<V>): Promise<V> {
  const answer = map.get(key) ?? ask();
  map.set(key, answer);
  return answer;
}

/** Visits of an order; `over`: it is past all visits, what is done then is refused. */
async function visitsOf(stores: Stores, workOrderId: string): Promise<Row[] | 'over'> {
  const order = await stores.rows.get('work_order', workOrderId);
  if (order === null || order['state'] === 'done' || order['state'] === 'withdrawn') return 'over';
  return stores.rows.all('attempt', [{ column: 'work_order_id', is: '=', value: workOrderId }], 'started_at');
}

const begunAfter = ({ started_at: start }: Row, at: string): boolean =>
  Date.parse(String(start)) > Date.parse(at);

const endedBy = ({ ended_at: end }: Row, at: string): boolean =>
  end !== null && Date.parse(String(end)) <= Date.parse(at);
