import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { EventType } from '../../domain/words.js';
import type { Row } from '../ports.js';

export interface StoredEvent {
  id: string;
  kind: EventType;
  text: string;
  subject_id: string;
  site_id: string | null;
  work_order_id: string | null;
  route_id: string | null;
  crew_id: string | null;
  line_id: string | null;
  once_key: string;
  facts: object;
}

/** What happened that others may want to hear: an outbox, written with what caused it. */
export interface EventStore {
  /** Keeps those whose once_key is new, and wakes who hands them on; how many were new. */
  tell(events: readonly StoredEvent[]): Promise<number>;
  /**
   * Forgets events older than so many days, with their deliveries and mails; what is still on its way stays. How many.
   */
  forgetOld(days: number): Promise<number>;
  /** Open orders whose visit is promised for, else planned on, a day between the two: day, from_time, to_time, promised. */
  visitsOn(from: IsoDate, to: IsoDate): Promise<Row[]>;
  /**
   * Stops behind the one of an order on its live route of a day, in order, each with what was promised; `begun` by a
   * start that has come and is not settled, `said_since` a moment by the crew itself.
   */
  stopsAfter(workOrderId: string, day: IsoDate, since: string): Promise<Row[]>;
  /** What has come since a moment of the crew's coming to an order: a visit begun, anything newer said. */
  comingSince(workOrderId: string, saidAt: string): Promise<{ begun: boolean; said: boolean }>;
}
