import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { CalendarEntry } from '../../domain/telling/calendarEntries.js';
import type { Row } from '../ports.js';

export interface FeedStore {
  /** A feed in force by the SHA-256 of its token, with the name of its crew or the address of its site; null: none. */
  byHash(hash: Buffer): Promise<Row | null>;
  /** Nobody else works on this calendar until the transaction ends. */
  lockCalendar(ownerId: string): Promise<void>;
  /** Visits on a crew's live routes between two days, the last of each order; `published`: the crew was told of the day. */
  crewVisits(crewId: string, from: IsoDate, to: IsoDate): Promise<Row[]>;
  /** A site's orders that are promised, planned or under way, and those done since a day. */
  siteVisits(siteId: string, doneSince: string): Promise<Row[]>;
  entries(ownerId: string): Promise<CalendarEntry[]>;
  putEntries(ownerId: string, entries: readonly CalendarEntry[]): Promise<void>;
}
