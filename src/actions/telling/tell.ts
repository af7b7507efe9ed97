import { v7 as newId } from 'uuid';
import { type EventFacts, eventText } from '../../domain/telling/eventText.js';
import type { EventType } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { StoredEvent } from './eventStore.js';

/** What an event is about, where it is about one. */
export interface EventSubjects {
  siteId?: string | null;
  workOrderId?: string | null;
  routeId?: string | null;
  crewId?: string | null;
  lineId?: string | null;
}

export interface NewEvent<T extends EventType = EventType> {
  type: T;
  /** The record it is first of all about. */
  subjectId: string;
  /** Told once: what makes it the same event again, behind its type. */
  once: string;
  facts: EventFacts[T];
  about?: EventSubjects;
}

/** An event in the words of its kind; the compiler holds facts and kind together. */
export const newEvent = <T extends EventType>(event: NewEvent<T>): StoredEvent => ({
  id: newId(),
  kind: event.type,
  text: eventText(event.type, event.facts),
  subject_id: event.subjectId,
  site_id: event.about?.siteId ?? null,
  work_order_id: event.about?.workOrderId ?? null,
  route_id: event.about?.routeId ?? null,
  crew_id: event.about?.crewId ?? null,
  line_id: event.about?.lineId ?? null,
  once_key: `${event.type}:${event.once}`,
  facts: event.facts,
});

/** One event, kept in the transaction of what caused it; said again, nothing comes of it. */
export const tell = <T extends EventType>(stores: Stores, event: NewEvent<T>): Promise<number> =>
  stores.events.tell([newEvent(event)]);
