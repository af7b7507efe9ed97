import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Row } from '../ports.js';

/** What planning asks of the books, each in one query. */
export interface PlanStore {
  /** Orders wanted, placed or under way, with site, tasks, promise, predecessor and live stop; by number. */
  openOrders(): Promise<Row[]>;
  /** Minutes planned and taken of finished attempts since a day, by crew and the visit's main task. */
  takenMinutes(since: IsoDate): Promise<Row[]>;
  /** Live routes of the shifts of the days with their stops, and each stop's first attempt of that day. */
  liveRoutes(fromDay: IsoDate, toDay: IsoDate): Promise<Row[]>;
  /** The same of routes driven out of the shift, from a day on. */
  onCallRoutes(fromDay: IsoDate): Promise<Row[]>;
  /** Of these routes those out of the shift on which no visit stands are history. */
  endNights(routeIds: readonly string[]): Promise<void>;
  /** Routes of one plan with their stops, as `liveRoutes`. */
  planRoutes(planId: string): Promise<Row[]>;
  /** Whom to phone at the sites of these orders, people who opted out left out. */
  contactsOf(workOrderIds: readonly string[]): Promise<Row[]>;
  /** Names people know orders by: number, address, client, state, and when crews come to it as things stand. */
  orderNames(workOrderIds: readonly string[]): Promise<Row[]>;
  /** The plan's routes become what crews drive, in its scope or on all its days; the ones before are history. */
  makeLive(planId: string): Promise<void>;
  /** Proposals for the same days rest on routes that are history now; how many. */
  markOthersStale(planId: string, because: object): Promise<number>;
  /** Whoever changes the routes of a day takes turns. */
  acquireDays(days: readonly IsoDate[]): Promise<void>;
  /** Forgets plans that nobody took and that were last touched so many days ago, with their routes; how many. */
  forgetUntaken(days: number): Promise<number>;
  /**
   * Forgets routes of so many days ago in whose place others were driven, and the plans that then have none; how many
   * routes. What was tried on them keeps its route.
   */
  forgetReplaced(days: number): Promise<number>;
  /** Whoever asks for an ordinary search takes turns: they are counted. */
  acquireSearches(): Promise<void>;
}
