import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { lateVisits } from '../../domain/telling/lateVisits.js';
import type { AttemptResult, NotDoneReason } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { lateEvent } from './coming.js';
import { newEvent, tell } from './tell.js';

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
  const now = house.clock.now();
  const day = house.zone.dayOf(now);
  if (house.zone.dayOf(new Date(freeAt)) !== day) return;
  const ahead = await stores.events.stopsAfter(orderId, day, freeAt);
  // It has gone on, as is heard in a moment: that start says more.
  if (ahead.some((stop) => stop['begun'] === true)) return;
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
  // Heard of too late, when the crew is there by all that is known; or the crew itself has said so since.
  const fresh = late.filter(
    ({ index, expectedMs }) => expectedMs > now.getTime() && waiting[index]?.['said_since'] !== true,
  );
  await stores.events.tell(
    fresh.map(({ index, expectedMs }) => {
      const stop = waiting[index] ?? {};
      return newEvent(
        lateEvent(house, {
          saidAt: now.toISOString(),
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
    /** Told once: the attempt, and its end where that was put right. */
    once: string;
    crewId: unknown;
    endedAt: string;
    result: AttemptResult;
    reason: NotDoneReason | null;
  },
): Promise<void> {
  await tell(stores, {
    type: 'work_finished',
    subjectId: String(order['id']),
    once: end.once,
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

/** `HH:MM` in seconds after midnight. */
const secondsOf = (time: string): number => Number(time.slice(0, 2)) * 3600 + Number(time.slice(3, 5)) * 60;
