import type { DangerKind } from '../../domain/words.js';
import { endsVisit } from '../../domain/work/dangers.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { holdSite } from './gas.js';
import { settleSince } from './taskResults.js';
import { giveUpOrder } from './withdrawal.js';

/** What an order was like before gas ended its visit: put back where the visit had ended before. */
interface BeforeGas {
  notBefore: string | null;
  wantedBy: string | null;
  kit: string[];
  /** Orders that it had led to by then. */
  ledTo: string[];
  tasks: Pick<Row, 'id' | 'position' | 'plan' | 'result' | 'reason' | 'done_at' | 'taken_minutes'>[];
}

export async function asBeforeGas(stores: Stores, order: Row, tasks: readonly Row[]): Promise<BeforeGas> {
  return {
    notBefore: order['not_before'] as string | null,
    wantedBy: order['wanted_by'] as string | null,
    kit: order['kit'] as string[],
    ledTo: (await ordersLedTo(stores, order['id'])).map(({ id }) => String(id)),
    tasks: tasks.map(({ id, position, plan, result, reason, done_at, taken_minutes }) => ({
      ...{ id, position, plan, result, reason, done_at, taken_minutes },
    })),
  };
}

/** A visit that goes on again, and since when its house waits for gas; null: it was made safe since. */
export interface Reopened {
  heldSince: string | null;
}

/**
 * The last visit of an order was ended by gas, and now an end from before the gas is heard of: the visit goes on again,
 * as it was, so that it ends as it did. Work that only the gas had raised is withdrawn, unless somebody has planned it
 * since; the incident stays.
 *
 * @param endedAt When the visit ended, as is heard now.
 * @returns Null: there is no such visit.
 */
export async function reopenBeforeGas(
  stores: Stores,
  orderId: string,
  endedAt: string,
): Promise<Reopened | null> {
  const order = await stores.rows.lock('work_order', orderId);
  if (order === null || order['state'] !== 'wanted') return null;
  const ofOrder = { column: 'work_order_id', is: '=' as const, value: orderId };
  const attempts = await stores.rows.all('attempt', [ofOrder], 'started_at');
  const visit = attempts.at(-1);
  if (visit === undefined || !(await wasEndedByGasAfter(stores, visit, endedAt))) return null;
  const before = visit['before_gas'] as BeforeGas;
  const gasAt = String(visit['ended_at']);

  await stores.rows.update('attempt', String(visit['id']), GOES_ON);
  const look = await takeOutLooks(stores, orderId, before);
  await stores.rows.update('work_order', orderId, {
    state: 'under_way',
    started_at: visit['started_at'],
    not_before: before.notBefore,
    wanted_by: before.wantedBy,
    minutes: Number(order['minutes']) - look.minutes,
    kit: (order['kit'] as string[]).filter((each) => each !== 'camera' || before.kit.includes(each)),
  });
  await putBackOnRoute(stores, orderId, visit['stop_id']);
  await settleSince(stores, before.tasks, endOf(attempts.at(-2)));
  for (const raised of await ordersLedTo(stores, orderId))
    if (!before.ledTo.includes(String(raised['id']))) await giveUpRaised(stores, raised);
  return { heldSince: await letGo(stores, orderId, gasAt) };
}

/** The house of a visit that ended after all before its gas waits as it did, with all that the end raised. */
export async function holdAgain(stores: Stores, siteId: unknown, { heldSince }: Reopened): Promise<void> {
  if (heldSince !== null) await holdSite(stores, siteId, heldSince);
}

const GOES_ON: Row = {
  ended_at: null,
  result: null,
  reason: null,
  billed: null,
  note: null,
  before_gas: null,
};

const endOf = (visit: Row | undefined): string | null =>
  visit === undefined || visit['ended_at'] === null ? null : String(visit['ended_at']);

async function wasEndedByGasAfter(stores: Stores, visit: Row, at: string): Promise<boolean> {
  const { before_gas: before, started_at: start, ended_at: end, work_order_id: orderId } = visit;
  if (before === null || end === null) return false;
  const [moment, from, to] = [at, start, end].map((each) => Date.parse(String(each))) as [
    number,
    number,
    number,
  ];
  if (moment < from || moment >= to) return false;
  const met = await stores.rows.all('danger', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'met_at', is: '=', value: end },
  ]);
  return met.some(({ kind }) => endsVisit(kind as DangerKind));
}

/** Looks by camera that the gas's end had added for the next visit go; those it changed are as they were. */
async function takeOutLooks(
  stores: Stores,
  orderId: string,
  before: BeforeGas,
): Promise<{ minutes: number }> {
  const tasks = await stores.rows.all('work_order_task', [
    { column: 'work_order_id', is: '=', value: orderId },
  ]);
  let minutes = 0;
  for (const task of tasks) {
    const was = before.tasks.find(({ id }) => id === task['id']);
    if (was !== undefined && task['kind'] === 'inspect')
      await stores.rows.update('work_order_task', String(task['id']), {
        position: was['position'],
        plan: was['plan'],
      });
    if (was !== undefined || task['added_by'] !== null) continue;
    minutes += Number(task['minutes']);
    await stores.rows.remove('work_order_task', String(task['id']));
  }
  return { minutes };
}

async function putBackOnRoute(stores: Stores, orderId: string, stopId: unknown): Promise<void> {
  if (stopId === null) return;
  const stop = (await stores.rows.get('stop', String(stopId))) ?? {};
  const route = await stores.rows.get('route', String(stop['route_id']));
  const isElsewhere = await stores.rows.count('stop', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'live', is: '=', value: true },
  ]);
  if (route?.['state'] === 'live' && isElsewhere === 0)
    await stores.rows.update('stop', String(stopId), { live: true });
}

async function ordersLedTo(stores: Stores, orderId: unknown): Promise<Row[]> {
  const returns = await stores.rows.all('work_order', [
    { column: 'returns_for_id', is: '=', value: orderId },
  ]);
  const follow = await stores.workLife.chainAfter(String(orderId));
  return [...returns, ...follow];
}

async function giveUpRaised(stores: Stores, order: Row): Promise<void> {
  const promised = await stores.rows.count('promise', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'ended_at', is: 'null' },
  ]);
  if (order['state'] === 'wanted' && promised === 0)
    await giveUpOrder(stores, order, 'the visit had ended before the gas that raised it');
}

/** @returns Since when the house waits for that gas; null: it was made safe, or the order waits for none. */
async function letGo(stores: Stores, orderId: string, gasAt: string): Promise<string | null> {
  const held = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'made_safe' },
    { column: 'state', is: '=', value: 'open' },
  ]);
  for (const { id, facts } of held) {
    const { since } = facts as { since?: string };
    if (since === undefined || Date.parse(since) !== Date.parse(gasAt)) continue;
    await stores.rows.remove('precondition', String(id));
    return since;
  }
  return null;
}
