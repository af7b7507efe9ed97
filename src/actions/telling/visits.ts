import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { lateVisits } from '../../domain/telling/lateVisits.js';
import type { AttemptResult, NotDoneReason } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import { openOrder } from '../openOrder.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { type NewEvent, newEvent, tell } from './tell.js';

/** The crew has left for an order. Said again on the same day, the first event stays. */
export async function tellOnTheWay(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  said: { leftAt: string; expectedAt: string | null },
): Promise<Row> {
  const order = await openOrder(stores, orderId);
  await mayWorkOn(house, stores, actor, String(order['site_id']), said.leftAt);
  if (liesAhead(house, said.leftAt))
    throw ruleBroken(
      'order-time',
      '#/leftAt',
      `${said.leftAt} lies in the future`,
      'the moment the crew left; check the clock of the device',
    );
  if (said.expectedAt !== null && Date.parse(said.expectedAt) < Date.parse(said.leftAt))
    throw ruleBroken('order-time', '#/expectedAt', 'lies before leftAt', `an instant from ${said.leftAt} on`);
  const stop = await liveStop(stores, orderId);
  const expectedAt = said.expectedAt ?? arrival(said.leftAt, stop);
  const once = `${orderId}:${house.zone.dayOf(new Date(said.leftAt))}`;
  await tell(stores, {
    type: 'on_the_way',
    subjectId: orderId,
    once,
    facts: {
      orderNumber: Number(order['number']),
      leftAt: said.leftAt,
      expectedAt,
      expectedTime: expectedAt === null ? null : house.zone.timeOf(new Date(expectedAt)),
    },
    about: aboutVisit(order, stop),
  });
  return told(stores, `on_the_way:${once}`);
}

/** Somebody says that a visit will be late; a later time is told anew. */
export async function tellRunningLate(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  said: { expectedAt: string; because: string | null },
): Promise<Row> {
  const order = await openOrder(stores, orderId);
  const now = house.clock.now().toISOString();
  await mayWorkOn(house, stores, actor, String(order['site_id']), now);
  if (said.expectedAt < now)
    throw ruleBroken('order-time', '#/expectedAt', `${said.expectedAt} is over`, `an instant from ${now} on`);
  const promise = await promiseOf(stores, orderId);
  const event = lateEvent(house, {
    order,
    stop: await liveStop(stores, orderId),
    expectedMs: Date.parse(said.expectedAt),
    promisedTo: promise?.['to_time'] === undefined ? null : (promise['to_time'] as string | null),
    because: said.because,
    once: `${orderId}:${said.expectedAt}`,
  });
  await tell(stores, event);
  return told(stores, `running_late:${event.once}`);
}

/**
 * Finds which of today's promised visits a crew can no longer begin in time, once it is known until when its present
 * stop takes; each is told once a day.
 *
 * @param freeAt When the crew leaves, or is expected to leave, the order's stop.
 */
export async function tellLateVisits(
  house: House,
  stores: Stores,
  orderId: string,
  freeAt: string,
): Promise<void> {
  const day = house.zone.dayOf(house.clock.now());
  if (house.zone.dayOf(new Date(freeAt)) !== day) return;
  const ahead = await stores.events.stopsAfter(orderId, day);
  const waiting = ahead.filter((stop) => stop['state'] === null || stop['state'] === 'placed');
  const stops = waiting.map((stop) => ({
    travelMs: Number(stop['travel_s']) * 1000,
    plannedStartMs: Date.parse(String(stop['starts_at'])),
    plannedEndMs: Date.parse(String(stop['ends_at'])),
    promisedToMs:
      stop['promised_day'] === day && stop['to_time'] !== null
        ? house.zone.instantOf(day, secondsOf(String(stop['to_time']))).getTime()
        : null,
  }));
  if (stops.every(({ promisedToMs }) => promisedToMs === null)) return;
  const { lateMinutes } = (await ownerSettings(stores)).telling;
  const late = lateVisits(Date.parse(freeAt), stops, lateMinutes * 60_000);
  await stores.events.tell(
    late.map(({ index, expectedMs }) => {
      const stop = waiting[index] ?? {};
      return newEvent(
        lateEvent(house, {
          order: { id: stop['work_order_id'], number: stop['number'], site_id: stop['site_id'] },
          stop,
          expectedMs,
          promisedTo: String(stop['to_time']),
          because: null,
          once: `${String(stop['work_order_id'])}:${day}`,
        }),
      );
    }),
  );
}

/** A visit ended, with what came of it. */
export async function tellFinished(
  house: House,
  stores: Stores,
  order: Row,
  end: {
    attemptId: string;
    crewId: unknown;
    endedAt: string;
    result: AttemptResult;
    reason: NotDoneReason | null;
  },
): Promise<void> {
  await tell(stores, {
    type: 'work_finished',
    subjectId: String(order['id']),
    once: end.attemptId,
    facts: {
      orderNumber: Number(order['number']),
      result: end.result,
      reason: end.reason,
      endedAt: end.endedAt,
      endedOn: house.zone.dayOf(new Date(end.endedAt)),
    },
    about: {
      siteId: String(order['site_id']),
      workOrderId: String(order['id']),
      crewId: end.crewId === null ? null : String(end.crewId),
    },
  });
}

/** Reminders of the visits of the coming days, each once a visit and day; how many were new. */
export async function tellReminders(stores: Stores, from: IsoDate, to: IsoDate): Promise<number> {
  const { remindPlanned } = (await ownerSettings(stores)).telling;
  const visits = (await stores.events.visitsOn(from, to)).filter(
    ({ promised }) => remindPlanned || promised === true,
  );
  return stores.events.tell(
    visits.map((visit) =>
      newEvent({
        type: 'reminder_due',
        subjectId: String(visit['id']),
        once: `${String(visit['id'])}:${String(visit['day'])}`,
        facts: {
          orderNumber: Number(visit['number']),
          day: String(visit['day']),
          from: visit['from_time'] as string | null,
          to: visit['to_time'] as string | null,
          promised: visit['promised'] === true,
        },
        about: {
          siteId: String(visit['site_id']),
          workOrderId: String(visit['id']),
          routeId: visit['route_id'] as string | null,
          crewId: visit['crew_id'] as string | null,
        },
      }),
    ),
  );
}

function lateEvent(
  house: House,
  late: {
    order: Row;
    stop: Row | null;
    expectedMs: number;
    promisedTo: string | null;
    because: string | null;
    once: string;
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

/** `HH:MM` in seconds after midnight. */
const secondsOf = (time: string): number => Number(time.slice(0, 2)) * 3600 + Number(time.slice(3, 5)) * 60;

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

async function told(stores: Stores, onceKey: string): Promise<Row> {
  const [event] = await stores.rows.all('event', [{ column: 'once_key', is: '=', value: onceKey }]);
  if (!event) throw new RangeError(`event ${onceKey} was not kept`);
  return event;
}
