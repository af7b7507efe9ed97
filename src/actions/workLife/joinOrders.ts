import type { KitKind, PRECONDITION_STATES, PreconditionKind } from '../../domain/words.js';
import { joinedPrecondition } from '../../domain/work/joinedPreconditions.js';
import type { House, Stores } from '../house.js';
import { AHEAD, openOrder } from '../openOrder.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { settleTicket, ticketInForce } from './locateTickets.js';
import { giveUpOrder } from './withdrawal.js';

/** Work one looks for before sending a second crew to a house. */
export interface OrderAlready {
  code: 'open_order_at_site';
  facts: { workOrderId: string; number: number; state: string; wantedBy: string | null };
  text: string;
}

/** Other work that is still ahead at the site of an order, each with the offer to join it. */
export async function ordersAlready(stores: Stores, order: Row): Promise<OrderAlready[]> {
  const others = await stores.rows.all(
    'work_order',
    [
      { column: 'site_id', is: '=', value: order['site_id'] },
      { column: 'state', is: 'in', value: AHEAD },
      { column: 'id', is: '<>', value: order['id'] },
    ],
    'number',
  );
  // Parts of one dig are days apart on purpose.
  return others
    .filter((other) => other['follows_id'] === null && other['id'] !== order['follows_id'])
    .map((other) => {
      const [number, wantedBy] = [Number(other['number']), other['wanted_by'] as string | null];
      const day = wantedBy === null ? '' : `, wanted by ${wantedBy}`;
      return {
        code: 'open_order_at_site',
        facts: { workOrderId: String(other['id']), number, state: String(other['state']), wantedBy },
        text: `order ${number} is ahead at this house already${day}: join the two, or two crews drive there`,
      };
    });
}

/**
 * Two orders of one house become one visit: the tasks, what they wait for and the earlier wanted day go over to the
 * order that stays, the other one is withdrawn.
 *
 * @param id   The order that goes.
 * @param into The order that stays.
 * @throws {Refused} `not-found`, `wrong-state`, orders of two sites, one that follows another or is followed.
 */
export async function joinOrders(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  into: string,
): Promise<Row> {
  // Locked in the order of their ids, so that two joins at once wait for each other and nobody for ever.
  const locked = new Map<string, Row>();
  for (const each of [id, into].sort()) locked.set(each, await lockAhead(stores, each));
  const [gone, stays] = [locked.get(id) ?? {}, locked.get(into) ?? {}];
  await refuseUnlike(stores, gone, stays);
  const moved = await moveTasks(stores, gone, stays);
  await movePreconditions(stores, gone, stays);
  await moveTicketAndPlan(stores, gone, stays);
  await heedTicket(house, stores, actor, into);
  const days = (column: string) =>
    [gone[column], stays[column]].flatMap((day) => (day === null ? [] : [String(day)]));
  const wantedBy = days('wanted_by').sort()[0] ?? null;
  const notBefore = days('not_before').sort().at(-1) ?? null;
  const joined = await stores.rows.update('work_order', into, {
    wanted_by: wantedBy,
    // What is wanted first rules: nobody waits for the other's not-before.
    not_before: wantedBy !== null && notBefore !== null && notBefore > wantedBy ? wantedBy : notBefore,
    respond_by:
      [gone['respond_by'], stays['respond_by']]
        .flatMap((at) => (at === null ? [] : [String(at)]))
        .sort()[0] ?? null,
    minutes: Number(stays['minutes']) + moved.minutes,
    people: Math.max(Number(gone['people']), Number(stays['people'])),
    kit: [...new Set([...(stays['kit'] as KitKind[]), ...(gone['kit'] as KitKind[])])].sort(),
    water_l: Number(stays['water_l']) + Number(gone['water_l']),
    sludge_l: Number(stays['sludge_l']) + Number(gone['sludge_l']),
    because_of: JSON.stringify([...(stays['because_of'] as object[]), ...(gone['because_of'] as object[])]),
  });
  await giveUpOrder(stores, gone, `joined to order ${String(stays['number'])}`);
  return joined ?? stays;
}

const lockAhead = (stores: Stores, id: string): Promise<Row> =>
  openOrder(stores, id, 'Only work that has not begun is joined.');

async function refuseUnlike(stores: Stores, gone: Row, stays: Row): Promise<void> {
  const refuse = (detail: string, remedy: string) => ruleBroken('join', '#/into', detail, remedy);
  if (gone['id'] === stays['id']) throw refuse('is the order itself', 'another order of the site');
  if (gone['site_id'] !== stays['site_id']) throw refuse('is of another site', 'an order of the same site');
  const chain = await stores.workLife.chainAfter(String(gone['id']));
  if (gone['follows_id'] !== null || chain.length > 0)
    throw refuse(
      'the order is part of a chain of work on days of its own',
      'join the other one to it, or neither',
    );
  const promised = await stores.rows.count('promise', [
    { column: 'work_order_id', is: '=', value: gone['id'] },
    { column: 'ended_at', is: 'null' },
  ]);
  if (promised > 0)
    throw refuse(
      'the client was promised a day for the order that goes',
      'join the other one to it, or end the promise',
    );
}

async function moveTasks(stores: Stores, gone: Row, stays: Row): Promise<{ minutes: number }> {
  const of = (order: Row) =>
    stores.rows.all(
      'work_order_task',
      [{ column: 'work_order_id', is: '=', value: order['id'] }],
      'position',
    );
  let position = Math.max(0, ...(await of(stays)).map((task) => Number(task['position'])));
  let minutes = 0;
  for (const task of await of(gone)) {
    position += 1;
    minutes += Number(task['minutes']);
    await stores.rows.update('work_order_task', String(task['id']), { work_order_id: stays['id'], position });
  }
  return { minutes };
}

/** Of two rows of one kind the open one wins; what a quote or a yes was given for stays told beside it. */
async function movePreconditions(stores: Stores, gone: Row, stays: Row): Promise<void> {
  const of = (order: Row) =>
    stores.rows.all('precondition', [{ column: 'work_order_id', is: '=', value: order['id'] }], 'created_at');
  const there = await of(stays);
  for (const row of await of(gone)) {
    const kind = row['kind'] as PreconditionKind;
    const ofKind = there.filter((each) => each['kind'] === kind);
    const own = ofKind.find(isOpen) ?? ofKind[0];
    const becomes = own
      ? joinedPrecondition(kind, stateOf(row), stateOf(own), sameFacts(kind, row, own))
      : 'beside';
    const facts = row['facts'] as Row;
    if (becomes === 'beside')
      await stores.rows.update('precondition', String(row['id']), {
        work_order_id: stays['id'],
        ...(own ? { facts: { ...facts, joinedFrom: `order ${String(gone['number'])}` } } : {}),
      });
    else if (becomes === 'reopens' && own)
      await stores.rows.update('precondition', String(own['id']), {
        state: 'open',
        met_at: null,
        met_by: null,
        facts: isOpen(row) ? facts : { decide: ASKED_AGAIN },
      });
  }
}

const stateOf = (row: Row) => row['state'] as (typeof PRECONDITION_STATES)[number];
const isOpen = (row: Row): boolean => row['state'] === 'open';
const ASKED_AGAIN = 'the two orders that became one had each its own: one for the whole visit';

const MET_BY: Partial<Record<PreconditionKind, readonly string[]>> = {
  locate_ticket: ['ticketId'],
  discharge_plan: ['receiver', 'permitRef'],
};

/** Whether two rows were met by the same ticket, or the same plan. */
function sameFacts(kind: PreconditionKind, a: Row, b: Row): boolean {
  const [ofA, ofB] = [a['facts'] as Row, b['facts'] as Row];
  return (MET_BY[kind] ?? []).every((name) => (ofA[name] ?? null) === (ofB[name] ?? null));
}

/** What met them goes over too: the ticket in force, and where the water was planned to go. */
async function moveTicketAndPlan(stores: Stores, gone: Row, stays: Row): Promise<void> {
  for (const [table, narrowed] of [
    ['locate_ticket', { column: 'replaced_by_id', is: 'null' }],
    ['water_record', { column: 'phase', is: '=', value: 'planned' }],
  ] as const) {
    const of = (order: Row) =>
      stores.rows.all(table, [{ column: 'work_order_id', is: '=', value: order['id'] }, narrowed]);
    if ((await of(stays)).length > 0) continue;
    for (const row of await of(gone))
      await stores.rows.update(table, String(row['id']), { work_order_id: stays['id'] });
  }
}

/** A ticket covers the digs it was called for: with others joined to them it is open. */
async function heedTicket(house: House, stores: Stores, actor: Actor, orderId: string): Promise<void> {
  const [row] = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'locate_ticket' },
  ]);
  const { ticketId } = (row?.['facts'] ?? {}) as { ticketId?: string };
  const ticket =
    (await ticketInForce(stores, orderId)) ??
    (ticketId === undefined ? null : await stores.rows.get('locate_ticket', ticketId));
  if (ticket !== null) await settleTicket(house, stores, actor, ticket);
}
