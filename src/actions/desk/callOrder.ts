import { v7 as newId } from 'uuid';
import { TASK_MINUTES } from '../../domain/jetting/siteMinutes.js';
import type { KitKind, TaskKind } from '../../domain/words.js';
import { type CallTask, callTasks, type OpenTask } from '../../domain/work/callTasks.js';
import type { Triage } from '../../domain/work/callTriage.js';
import type { House, Stores } from '../house.js';
import { makeWorkOrder } from '../makeWorkOrder.js';
import { AHEAD } from '../openOrder.js';
import { byText, instantText } from '../plans/calls.js';
import type { Said } from '../plans/planTools.js';
import type { Actor, Row } from '../ports.js';
import { ordersAlready } from '../workLife/joinOrders.js';
import { giveUpOrder } from '../workLife/withdrawal.js';

/** The work a call asks for. */
export interface CalledWork {
  siteId: string;
  judged: Triage;
  respondBy: string;
  people: number;
  kit: KitKind[] | null;
  because: string;
  note: string | null;
}

export interface CallOrder {
  orderId: string;
  /** The call was added to work that was open for the house already. */
  isAdded: boolean;
  warnings: Said[];
}

/**
 * The order of a call: one that a call opened for the house already, else a new one, with every pump tested and the
 * discharge inspected, whatever other orders of the house have open.
 */
export async function orderOfCall(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  newOrderId: string,
  work: CalledWork,
): Promise<CallOrder> {
  const orders = await openOrders(stores, work.siteId);
  const things = await thingsAsked(stores, work);
  const open = await openTasks(stores, things, orders);
  const isUrgent = work.judged.urgency !== 'in_days';
  let host = orders.find((row) => isAhead(row) && row['cause'] === 'call' && row['respond_by'] !== null);
  let tasks = callTasks(things, open, { isUrgent, hostId: host ? String(host['id']) : null });
  if (!host && tasks.fresh.length + tasks.taken.length === 0) {
    // All that could be looked at is open: the visit that has it answers the call.
    host = orders.find((row) => open.some((task) => task.workOrderId === row['id']));
    if (host) tasks = { fresh: [], taken: [] };
  }
  const orderId = host ? String(host['id']) : newOrderId;
  if (host) await addCall(house, stores, host, work, tasks.fresh);
  else await newOrder(house, stores, actor, orderId, work, tasks.fresh);
  const warnings = host ? [await addedText(house, stores, orderId)] : [];
  warnings.push(...(await takeOver(stores, orderId, tasks.taken, orders)));
  warnings.push(...(await elsewhere(house, stores, orderId, orders)));
  return { orderId, isAdded: host !== undefined, warnings };
}

const isAhead = (row: Row): boolean => AHEAD.includes(String(row['state']));

/** Orders of the house that are not over, the soonest first, locked: two calls at once make one visit. */
async function openOrders(stores: Stores, siteId: string): Promise<Row[]> {
  await stores.rows.lock('site', siteId);
  const orders: Row[] = [];
  for (const { id } of await stores.rows.all(
    'work_order',
    [
      { column: 'site_id', is: '=', value: siteId },
      { column: 'state', is: 'in', value: [...AHEAD, 'under_way'] },
    ],
    'id',
  )) {
    const row = await stores.rows.lock('work_order', String(id));
    if (row && (isAhead(row) || row['state'] === 'under_way')) orders.push(row);
  }
  const due = (row: Row) => String(row['respond_by'] ?? '9999');
  return orders.sort((a, b) => (due(a) < due(b) ? -1 : 1));
}

/** Pits, and the discharges of them; every line where there is no pit, or where something is only stained. */
async function thingsAsked(stores: Stores, { siteId, judged }: CalledWork) {
  const onSite = [
    { column: 'site_id', is: '=' as const, value: siteId },
    { column: 'archived_on', is: 'null' as const },
  ];
  const pits = await stores.rows.all('pit', onSite);
  const lines = await stores.rows.all('line', onSite);
  const discharges = new Set(pits.map((pit) => pit['discharge_line_id']));
  const looked =
    pits.length > 0 && judged.kind !== 'orange_stain'
      ? lines.filter((line) => discharges.has(line['id']))
      : lines;
  const idOf = (row: Row) => String(row['id']);
  return { pitIds: pits.map(idOf), lineIds: looked.map(idOf) };
}

async function openTasks(
  stores: Stores,
  { pitIds, lineIds }: { pitIds: string[]; lineIds: string[] },
  orders: readonly Row[],
): Promise<OpenTask[]> {
  const of = (column: string, ids: string[]) =>
    stores.rows.all('work_order_task', [
      { column, is: 'in', value: ids },
      { column: 'open', is: '=', value: true },
    ]);
  const rows = [...(await of('pit_id', pitIds)), ...(await of('line_id', lineIds))];
  return rows.map((row) => ({
    id: String(row['id']),
    kind: row['kind'] as TaskKind,
    lineId: row['line_id'] as string | null,
    pitId: row['pit_id'] as string | null,
    minutes: Number(row['minutes']),
    workOrderId: String(row['work_order_id']),
    isAhead: orders.some((order) => order['id'] === row['work_order_id'] && isAhead(order)),
  }));
}

async function newOrder(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  orderId: string,
  work: CalledWork,
  tasks: CallTask[],
): Promise<void> {
  const terms = await stores.rows.all('care_terms', [{ column: 'site_id', is: '=', value: work.siteId }]);
  const today = house.zone.dayOf(house.clock.now());
  const inTerms = terms.some(
    (row) => String(row['from_day']) <= today && (row['to_day'] === null || String(row['to_day']) > today),
  );
  const order = await makeWorkOrder(
    stores,
    actor,
    orderId,
    {
      siteId: work.siteId,
      cause: 'call',
      tasks: tasks.map((task) => ({ ...task, minutes: null })),
      notBefore: null,
      wantedBy: house.zone.dayOf(new Date(work.respondBy)),
      respondBy: work.respondBy,
      people: work.people,
      kit: work.kit,
      priceBasis: inTerms ? 'care_terms' : 'time_and_material',
      priceMinor: null,
      followsId: null,
      followsAfterDays: 0,
      returnsForId: null,
      because: work.because,
      note: work.note,
    },
    today,
  );
  await stores.rows.update('work_order', orderId, {
    because_of: JSON.stringify([...(order['because_of'] as object[]), ...work.judged.reasons]),
  });
}

/** One more call of a house whose order is open: the sooner time, the more people, what is not asked yet. */
async function addCall(
  house: House,
  stores: Stores,
  order: Row,
  work: CalledWork,
  fresh: readonly CallTask[],
): Promise<void> {
  const id = String(order['id']);
  const last = await lastPosition(stores, id);
  for (const [i, task] of fresh.entries())
    await stores.rows.insert('work_order_task', {
      id: newId(),
      work_order_id: id,
      position: last + i + 1,
      kind: task.kind,
      line_id: task.lineId,
      pit_id: task.pitId,
      minutes: TASK_MINUTES[task.kind],
      plan: {},
      part: 1,
    });
  const sooner = (a: unknown, b: string) => (a === null || b < String(a) ? b : String(a));
  const respondBy = sooner(order['respond_by'], work.respondBy);
  await stores.rows.update('work_order', id, {
    respond_by: respondBy,
    wanted_by: sooner(order['wanted_by'], house.zone.dayOf(new Date(respondBy))),
    not_before: null,
    people: Math.max(Number(order['people']), work.people),
    kit: [...new Set([...(order['kit'] as KitKind[]), ...(work.kit ?? [])])].sort(),
    minutes: Number(order['minutes']) + fresh.reduce((sum, { kind }) => sum + TASK_MINUTES[kind], 0),
    because_of: JSON.stringify([
      ...(order['because_of'] as object[]),
      { code: 'call', facts: { again: true }, text: work.because },
      ...work.judged.reasons,
    ]),
    note: [order['note'], work.note].filter(Boolean).join(' ').slice(0, MOST_NOTE) || null,
  });
}

const MOST_NOTE = 2000;

const lastPosition = async (stores: Stores, orderId: string): Promise<number> =>
  Math.max(
    0,
    ...(await stores.rows.all('work_order_task', [{ column: 'work_order_id', is: '=', value: orderId }])).map(
      (task) => Number(task['position']),
    ),
  );

/** Moves first looks from visits that can wait; one that has nothing left to do is withdrawn. */
async function takeOver(
  stores: Stores,
  orderId: string,
  taken: readonly OpenTask[],
  orders: readonly Row[],
): Promise<Said[]> {
  let position = await lastPosition(stores, orderId);
  for (const { id } of taken)
    await stores.rows.update('work_order_task', id, {
      work_order_id: orderId,
      position: ++position,
      // A look in an emergency is one by eye: nobody waits for a camera.
      plan: {},
    });
  const minutesOf = (tasks: readonly OpenTask[]) => tasks.reduce((sum, { minutes }) => sum + minutes, 0);
  if (taken.length > 0) {
    const own = await stores.rows.get('work_order', orderId);
    await stores.rows.update('work_order', orderId, { minutes: Number(own?.['minutes']) + minutesOf(taken) });
  }
  const said: Said[] = [];
  for (const giver of orders) {
    const gone = taken.filter((task) => task.workOrderId === giver['id']);
    if (gone.length === 0) continue;
    const giverId = String(giver['id']);
    const number = String(giver['number']);
    const isEmpty =
      (await stores.rows.count('work_order_task', [
        { column: 'work_order_id', is: '=', value: giverId },
        { column: 'open', is: '=', value: true },
      ])) === 0;
    await stores.rows.update('work_order', giverId, {
      minutes: Math.max(1, Number(giver['minutes']) - minutesOf(gone)),
    });
    if (isEmpty) await giveUpOrder(stores, giver, 'all of it is done on the visit of a call');
    const kinds = [...new Set(gone.map(({ kind }) => kind.replaceAll('_', ' ')))].join(', ');
    said.push({
      code: 'tasks_taken_over',
      facts: {
        workOrderId: giverId,
        number: Number(giver['number']),
        tasks: gone.map(({ kind }) => kind),
        withdrawn: isEmpty,
      },
      text: `${kinds} of order ${number} ${isEmpty ? `is all it had: it is done on this visit, and order ${number} is withdrawn` : `is done on this visit; order ${number} keeps the rest`}`,
    });
  }
  return said;
}

/** Where an order stands; null: no crew drives there. */
async function standsOn(
  stores: Stores,
  orderId: string,
): Promise<{ crewName: string; startsAt: Date } | null> {
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'live', is: '=', value: true },
  ]);
  const route = stop && (await stores.rows.get('route', String(stop['route_id'])));
  const crew = route && (await stores.rows.get('crew', String(route['crew_id'])));
  return stop && crew
    ? { crewName: String(crew['name']), startsAt: new Date(String(stop['starts_at'])) }
    : null;
}

async function addedText(house: House, stores: Stores, orderId: string): Promise<Said> {
  const order = (await stores.rows.get('work_order', orderId)) ?? {};
  const place = await standsOn(stores, orderId);
  const isLate = place !== null && place.startsAt.getTime() > Date.parse(String(order['respond_by']));
  const where =
    place === null
      ? 'no crew drives there yet: place it'
      : `${place.crewName} comes at ${instantText(house, place.startsAt)}${isLate ? ', which is too late: move it (GET …/places)' : ''}`;
  return {
    code: isLate ? 'placed_too_late' : 'call_added',
    facts: {
      workOrderId: orderId,
      number: Number(order['number']),
      crewName: place?.crewName ?? null,
      startsAt: place?.startsAt.toISOString() ?? null,
    },
    text: `order ${String(order['number'])} is open for this house already and the call was added to it; somebody must be there by ${byText(house, order)}; ${where}`,
  };
}

/** Crews at the house now, and what else is open there with when it is driven to. */
async function elsewhere(
  house: House,
  stores: Stores,
  orderId: string,
  orders: readonly Row[],
): Promise<Said[]> {
  const said: Said[] = [];
  for (const row of orders.filter((each) => each['state'] === 'under_way')) {
    const place = await standsOn(stores, String(row['id']));
    said.push({
      code: 'crew_at_house',
      facts: { workOrderId: row['id'], number: Number(row['number']), crewName: place?.crewName ?? null },
      text: `${place?.crewName ?? 'a crew'} is at this house now (order ${String(row['number'])} is under way): phone them first`,
    });
  }
  const order = (await stores.rows.get('work_order', orderId)) ?? {};
  for (const other of await ordersAlready(stores, order)) {
    const place = await standsOn(stores, other.facts.workOrderId);
    const when = place
      ? `; ${place.crewName} comes for it at ${instantText(house, place.startsAt)}`
      : '; no crew drives to it yet';
    said.push({
      code: other.code,
      facts: {
        ...other.facts,
        crewName: place?.crewName ?? null,
        startsAt: place?.startsAt.toISOString() ?? null,
      },
      text: `${other.text}${when}`,
    });
  }
  return said;
}
