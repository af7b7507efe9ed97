import { type ComingKnown, isStale } from '../../domain/telling/coming.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import { openOrder } from '../openOrder.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { type NewEvent, newEvent, tell } from './tell.js';

/** The crew left for an order; null: expected by the drive of its route. */
export interface SaidOnTheWay {
  leftAt: string;
  expectedAt: string | null;
}

/** The crew will be there later than was thought. */
export interface SaidLate {
  saidAt: string;
  expectedAt: string;
  because: string | null;
}

const ONLY_AHEAD = 'Only work that is still ahead has a crew on its way.';
const OF_NO_USE =
  'is of no use any more: the crew has said something newer, is there, or should have been by then';

/**
 * The crew has left for an order; said again on the same day, the first event stays.
 *
 * @throws {Refused} `wrong-state` once the work has begun; `rule-broken` when it is of no use any more.
 */
export async function tellOnTheWay(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  said: SaidOnTheWay,
): Promise<Row> {
  await openOrder(stores, orderId, ONLY_AHEAD);
  const event = await sayOnTheWay(house, stores, actor, orderId, said);
  if (event === null)
    throw ruleBroken('order-time', '#/leftAt', OF_NO_USE, 'the moment the crew left, said before it arrives');
  return event;
}

/**
 * The same as it is brought in when there is reach again, in any order and as often as wanted: what is of no use any
 * more is told to nobody.
 *
 * @returns The event that told it, now or before; null: nobody was told.
 */
export async function sayOnTheWay(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  { leftAt, expectedAt }: SaidOnTheWay,
): Promise<Row | null> {
  const order = await heardOf(house, stores, actor, orderId, leftAt, '#/leftAt');
  refuseBackwards(leftAt, expectedAt, 'leftAt');
  const stop = await liveStop(stores, orderId);
  const expected = expectedAt ?? arrival(leftAt, stop);
  const once = `${orderId}:${house.zone.dayOf(new Date(leftAt))}`;
  const before = await toldAs(stores, `on_the_way:${once}`);
  if (before !== null) return before;
  if (await isOver(house, stores, order, 'on_the_way', leftAt, expected)) return null;
  await tell(stores, {
    type: 'on_the_way',
    subjectId: orderId,
    once,
    facts: {
      orderNumber: Number(order['number']),
      leftAt,
      expectedAt: expected,
      expectedTime: expected === null ? null : house.zone.timeOf(new Date(expected)),
    },
    about: aboutVisit(order, stop),
  });
  return toldAs(stores, `on_the_way:${once}`);
}

/**
 * Somebody says that a visit will be late; another time is told anew.
 *
 * @throws {Refused} `wrong-state` once the work has begun; `rule-broken` when it is of no use any more.
 */
export async function tellLate(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  said: SaidLate,
): Promise<Row> {
  await openOrder(stores, orderId, ONLY_AHEAD);
  const event = await sayLate(house, stores, actor, orderId, said);
  if (event === null) throw ruleBroken('order-time', '#/expectedAt', OF_NO_USE, 'an instant still ahead');
  return event;
}

/** The same as it is brought in when there is reach again; null: nobody was told. */
export async function sayLate(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  { saidAt, expectedAt, because }: SaidLate,
): Promise<Row | null> {
  const order = await heardOf(house, stores, actor, orderId, saidAt, '#/saidAt');
  refuseBackwards(saidAt, expectedAt, 'saidAt');
  // To the minute: two of a crew who say the same say it once.
  const once = `${orderId}:${expectedAt.slice(0, 16)}`;
  const before = await toldAs(stores, `running_late:${once}`);
  if (before !== null) return before;
  if (await isOver(house, stores, order, 'running_late', saidAt, expectedAt)) return null;
  const promise = await promiseOf(stores, orderId);
  const event = lateEvent(house, {
    order,
    stop: await liveStop(stores, orderId),
    expectedMs: Date.parse(expectedAt),
    promisedTo: promise?.['to_time'] === undefined ? null : (promise['to_time'] as string | null),
    because,
    once,
    saidAt,
  });
  await stores.events.tell([newEvent(event)]);
  return toldAs(stores, `running_late:${once}`);
}

/** The order that somebody speaks of, locked, and by one who may. */
async function heardOf(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  saidAt: string,
  pointer: string,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', orderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: orderId });
  await mayWorkOnOrder(house, stores, actor, order, saidAt);
  if (liesAhead(house, saidAt))
    throw ruleBroken(
      'order-time',
      pointer,
      `${saidAt} lies in the future`,
      'the moment it happened; check the clock of the device',
    );
  return order;
}

function refuseBackwards(saidAt: string, expectedAt: string | null, from: string): void {
  if (expectedAt !== null && Date.parse(expectedAt) < Date.parse(saidAt))
    throw ruleBroken(
      'order-time',
      '#/expectedAt',
      `${expectedAt} lies before ${from}`,
      `an instant from ${saidAt} on`,
    );
}

async function isOver(
  house: House,
  stores: Stores,
  order: Row,
  kind: 'on_the_way' | 'running_late',
  saidAt: string,
  expectedAt: string | null,
): Promise<boolean> {
  const { telling } = await ownerSettings(stores);
  const since = await stores.events.comingSince(String(order['id']), saidAt);
  const known: ComingKnown = {
    isAhead: order['state'] === 'wanted' || order['state'] === 'placed',
    begunSince: since.begun,
    saidSince: since.said,
    nowMs: house.clock.now().getTime(),
  };
  const expectedMs = expectedAt === null ? null : Date.parse(expectedAt);
  return isStale({ kind, saidMs: Date.parse(saidAt), expectedMs }, known, telling.lateMinutes * 60_000);
}

export function lateEvent(
  house: House,
  late: {
    order: Row;
    stop: Row | null;
    expectedMs: number;
    promisedTo: string | null;
    because: string | null;
    once: string;
    saidAt: string;
  },
): NewEvent<'running_late'> {
  const expected = new Date(late.expectedMs);
  return {
    type: 'running_late',
    subjectId: String(late.order['id']),
    once: late.once,
    facts: {
      orderNumber: Number(late.order['number']),
      expectedAt: expected.toISOString(),
      expectedTime: house.zone.timeOf(expected),
      promisedTo: late.promisedTo,
      because: late.because,
      saidAt: late.saidAt,
    },
    about: aboutVisit(late.order, late.stop),
  };
}

const aboutVisit = (order: Row, stop: Row | null) => ({
  siteId: String(order['site_id']),
  workOrderId: String(order['id']),
  routeId: (stop?.['route_id'] as string | undefined) ?? null,
  crewId: (stop?.['crew_id'] as string | undefined) ?? null,
});

const arrival = (leftAt: string, stop: Row | null): string | null =>
  stop === null ? null : new Date(Date.parse(leftAt) + Number(stop['travel_s']) * 1000).toISOString();

async function liveStop(stores: Stores, orderId: string): Promise<Row | null> {
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'live', is: '=', value: true },
  ]);
  if (!stop) return null;
  const route = await stores.rows.get('route', String(stop['route_id']));
  return { ...stop, crew_id: route?.['crew_id'] ?? null };
}

async function promiseOf(stores: Stores, orderId: string): Promise<Row | undefined> {
  const promises = await stores.rows.all(
    'promise',
    [
      { column: 'work_order_id', is: '=', value: orderId },
      { column: 'ended_at', is: 'null' },
    ],
    'told_at',
  );
  return promises.at(-1);
}

async function toldAs(stores: Stores, onceKey: string): Promise<Row | null> {
  const [event] = await stores.rows.all('event', [{ column: 'once_key', is: '=', value: onceKey }]);
  return event ?? null;
}
