import ical, { ICalCalendarMethod, ICalEventStatus } from 'ical-generator';
import type { CalendarEntry } from '../domain/telling/calendarEntries.js';
import type { CalendarState } from '../domain/words.js';

const STATUS: Record<CalendarState, ICalEventStatus> = {
  confirmed: ICalEventStatus.CONFIRMED,
  tentative: ICalEventStatus.TENTATIVE,
  cancelled: ICalEventStatus.CANCELLED,
};

/**
 * A calendar after RFC 5545: times in UTC, days as dates, the same text for the same entries.
 *
 * @param ownerId Of the crew or site: a visit is one event in each of their calendars.
 */
export function calendarFeed(name: string, ownerId: string, entries: readonly CalendarEntry[]): string {
  const calendar = ical({
    name,
    prodId: { company: 'Openbore', product: 'visits', language: 'EN' },
    method: ICalCalendarMethod.PUBLISH,
    ttl: 15 * 60,
  });
  for (const entry of entries) {
    calendar.createEvent({
      id: `${entry.workOrderId}.${ownerId}@openbore`,
      sequence: entry.sequence,
      stamp: new Date(entry.changedAt),
      created: new Date(entry.createdAt),
      lastModified: new Date(entry.changedAt),
      start: new Date(entry.starts),
      end: new Date(entry.ends),
      allDay: isDay(entry.starts),
      summary: entry.summary,
      description: entry.description,
      location: entry.location,
      status: STATUS[entry.state],
    });
  }
  return calendar.toString();
}

const isDay = (text: string): boolean => /^\d{4}-\d\d-\d\d$/.test(text);
