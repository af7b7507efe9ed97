import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { NotDoneReason } from '../../domain/words.js';
import { afterNotDone } from '../../domain/work/notDone.js';
import type { House, Stores } from '../house.js';
import { NO_LOCK } from '../plans/lockOrder.js';
import type { ToPhone } from '../plans/toPhone.js';
import type { Actor, Row } from '../ports.js';
import { type FieldFault, Refused, ruleBroken } from '../problems.js';
import { endOfOrder } from '../workLife/notDoneWork.js';
import { type OpenItem, stillOpen } from './stillOpen.js';

export interface ClosingAsk {
  /** Reasons of single visits; the others get the reason of the rest. */
  notDone: readonly { workOrderId: string; reason: NotDoneReason; note: string | null }[];
  restBecause: NotDoneReason;
  /** Visits under way stay so: the crew is still there. */
  leaveRunning: boolean;
}

/** What happens to a visit the day left undone. */
export interface LeftUndone {
  workOrderId: string;
  number: number;
  address: string;
  reason: NotDoneReason;
  note: string | null;
  next: string;
  notBefore: IsoDate;
  promiseBroken: boolean;
}

export interface ClosedRoute {
  route: Row;
  done: number;
  running: string[];
  notDone: LeftUndone[];
  toPhone: ToPhone[];
  /** What its crew's phones sent of the day and nobody has settled. */
  onPhones: OpenItem[];
}

/**
 * The crew's day is over: what was not done goes back to wanted, with its reason, what happens next and not before
 * when; promises of that day are broken, and those to phone are listed.
 *
 * @throws {Refused} `not-found`; `wrong-state` for a day to come, closed already, or with a visit under way unless
 *   `leaveRunning`; `rule-broken` for a reason that is a decision, or an order that is not left on the route.
 */
export async function closeRoute(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  routeId: string,
  ask: ClosingAsk,
): Promise<ClosedRoute> {
  const asked = await stores.rows.get('route', routeId);
  if (!asked || asked['state'] === 'proposed')
    throw new Refused({ code: 'not-found', resource: 'route', id: routeId });
  const day = String(asked['day']);
  // Whoever changes the routes of a day takes turns.
  await stores.plans.acquireDays([day]);
  const route = (await stores.rows.lock('route', routeId)) ?? asked;
  refuseState(house, route, day);
  const visits = await stores.desk.visits(routeId);
  const running = visits.filter((visit) => visit['state'] === 'under_way');
  if (running.length > 0 && !ask.leaveRunning)
    throw new Refused({
      code: 'wrong-state',
      resource: 'route',
      id: routeId,
      state: 'under_way',
      allowed: ['live'],
      detail: `Work on order ${running.map((visit) => String(visit['number'])).join(', ')} still runs. Finish it, or send leaveRunning: true.`,
    });
  const left = visits.filter((visit) => visit['state'] === 'wanted' || visit['state'] === 'placed');
  refuseReasons(ask, left);
  const now = house.clock.now().toISOString();
  const promises = (await stores.desk.promises(day, day)).filter((row) => row['ended_at'] === null);
  const notDone: LeftUndone[] = [];
  const toPhone: ToPhone[] = [];
  for (const visit of left) {
    const said = ask.notDone.find(({ workOrderId }) => workOrderId === visit['id']);
    const undone = await leaveUndone(stores, visit, day, said?.reason ?? ask.restBecause, said?.note ?? null);
    const promise = promises.find((row) => row['work_order_id'] === visit['id']);
    if (promise) {
      await stores.rows.update('promise', String(promise['id']), {
        ended_at: now,
        ended_because: `not done: ${undone.reason.replaceAll('_', ' ')}`,
      });
      toPhone.push(phoneOf(promise, undone));
    }
    notDone.push({ ...undone, promiseBroken: promise !== undefined });
  }
  const closed = await stores.rows.update('route', routeId, {
    closed_at: now,
    closed_by: actor.name,
    not_done: JSON.stringify(notDone),
  });
  return {
    route: closed ?? route,
    done: visits.filter((visit) => visit['state'] === 'done').length,
    running: running.map((visit) => String(visit['id'])),
    notDone,
    toPhone,
    onPhones: (await stillOpen(house, stores, day)).onPhones.filter(
      ({ crewId }) => crewId === route['crew_id'],
    ),
  };
}

function refuseState(house: House, route: Row, day: IsoDate): void {
  const refuse = (state: string, detail: string) =>
    new Refused({
      code: 'wrong-state',
      resource: 'route',
      id: String(route['id']),
      state,
      allowed: ['live'],
      detail,
    });
  if (route['state'] !== 'live')
    throw refuse('replaced', 'Another route has taken its place: close that one.');
  if (route['closed_at'] !== null) throw refuse('closed', `It was closed by ${String(route['closed_by'])}.`);
  if (day > house.zone.dayOf(house.clock.now())) throw refuse('ahead', 'The day has not come.');
}

function refuseReasons({ notDone, restBecause }: ClosingAsk, left: readonly Row[]): void {
  const faults: FieldFault[] = [];
  const refused = (pointer: string) =>
    faults.push({
      pointer,
      detail: 'a refusal is a decision on record, with the risk that was told',
      remedy: 'finish the visit with reason refused, or record a decision and withdraw the order',
    });
  if (restBecause === 'refused') refused('#/restBecause');
  notDone.forEach(({ workOrderId, reason }, i) => {
    if (reason === 'refused') refused(`#/notDone/${i}/reason`);
    if (!left.some((visit) => visit['id'] === workOrderId))
      faults.push({
        pointer: `#/notDone/${i}/workOrderId`,
        detail: 'is no visit that this route has left undone',
        remedy: 'an order of the route that is neither done nor under way',
      });
  });
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'closing', faults });
}

async function leaveUndone(
  stores: Stores,
  visit: Row,
  day: IsoDate,
  reason: NotDoneReason,
  note: string | null,
): Promise<Omit<LeftUndone, 'promiseBroken'>> {
  const id = String(visit['id']);
  const end = { ...NO_ATTEMPT, reason };
  await stores.rows.update('stop', String(visit['stop_id']), { live: false });
  const change = await endOfOrder(stores, id, end, 'wanted', day);
  // A lock or promise of a day that is over would leave it out of every plan to come.
  const order = await stores.rows.get('work_order', id);
  const isHeldYet = [order?.['lock_crew_id'], order?.['lock_from'], order?.['lock_to']].some(Boolean);
  const dayOver = isHeldYet ? { lock_day: null, lock_sequence: null } : NO_LOCK;
  await stores.rows.update('work_order', id, { ...change, ...dayOver });
  return {
    workOrderId: id,
    number: Number(visit['number']),
    address: String(visit['address']),
    reason,
    note,
    next: afterNotDone(reason).next,
    notBefore: String(change['not_before'] ?? addDays(day, 1)),
  };
}

/** Nobody began it. */
const NO_ATTEMPT = {
  endedAt: '',
  result: 'not_done' as const,
  refusal: null,
  pumpRestored: null,
  flowProven: null,
  waterWentTo: null,
  water: null,
  note: null,
  tasks: [],
  replaced: [],
};

const phoneOf = (
  promise: Row,
  { workOrderId, number, address, reason }: Omit<LeftUndone, 'promiseBroken'>,
): ToPhone => ({
  workOrderId,
  number,
  address,
  town: String(promise['town']),
  promised: {
    day: String(promise['day']),
    from: promise['from_time'] === null ? null : String(promise['from_time']),
    to: promise['to_time'] === null ? null : String(promise['to_time']),
  },
  respondBy: null,
  planned: null,
  because: reason.replaceAll('_', ' '),
  contacts: (promise['contacts'] as ToPhone['contacts']).map(({ name, role, phone, language }) => ({
    name,
    role,
    phone,
    language,
  })),
});

/** Closes every live route of a day that is not closed yet, all or none. */
export async function closeDay(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  day: IsoDate,
  ask: ClosingAsk,
): Promise<ClosedRoute[]> {
  if (day > house.zone.dayOf(house.clock.now()))
    throw ruleBroken('closing', '#/day', `${day} has not come`, 'a day up to today');
  await stores.plans.acquireDays([day]);
  const routes = (await stores.desk.routes(day, day)).filter((row) => row['closed_at'] === null);
  const named = new Map<string, string>();
  for (const route of routes)
    for (const visit of await stores.desk.visits(String(route['id'])))
      named.set(String(visit['id']), String(route['id']));
  ask.notDone.forEach(({ workOrderId }, i) => {
    if (!named.has(workOrderId))
      throw ruleBroken(
        'closing',
        `#/notDone/${i}/workOrderId`,
        `is on no open route of ${day}`,
        'an order of a route of the day',
      );
  });
  const closed: ClosedRoute[] = [];
  for (const route of routes) {
    const id = String(route['id']);
    const own = ask.notDone.filter(({ workOrderId }) => named.get(workOrderId) === id);
    closed.push(await closeRoute(house, stores, actor, id, { ...ask, notDone: own }));
  }
  return closed;
}
