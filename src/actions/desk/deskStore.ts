import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Row } from '../ports.js';

/** What a dispatcher's day is made of, each in one query. */
export interface DeskStore {
  /** What crews were told of days from one on, each with the visits that are live now as `now`. */
  published(fromDay: IsoDate): Promise<Row[]>;
  /** Crews that were told of a day on which no route of theirs is live any more. */
  gone(day: IsoDate, crewId: string | null): Promise<Row[]>;
  /** Visits live on a route, in sequence, with order, site and promise. */
  visits(routeId: string): Promise<Row[]>;
  /** The visits of a route as its crew is told of them now, those tried that day too; as JSON keeps them. */
  visitsNow(routeId: string): Promise<unknown>;
  /** Routes of the days, live ones, each with its publication and counts of visits by state. */
  routes(fromDay: IsoDate, toDay: IsoDate): Promise<Row[]>;
  /** Live routes of the days, each with its crew's day (`crew_day`) and the visits still ahead (`visits`). */
  ahead(fromDay: IsoDate, toDay: IsoDate): Promise<Row[]>;
  /** Promises of the days in force or ended, with order, site, contacts and where the order stands. */
  promises(fromDay: IsoDate, toDay: IsoDate): Promise<Row[]>;
  /** Visits ahead of the days without a promise, with access, tasks, crew and whom to reach. */
  notAgreed(fromDay: IsoDate, toDay: IsoDate): Promise<Row[]>;
  /** Orders no crew drives to, with what they wait for. */
  /**
   * What apps sent of a day that waits or was refused, and conflicts nobody settled: of items that happened from `from`
   * until before `to`, each with the order's number and the crew of who sent it.
   */
  openItems(day: IsoDate, from: string, to: string): Promise<Row[]>;
  unplaced(): Promise<Row[]>;
  /** What the newest accepted plan left out, and when it was accepted. */
  lastPlan(): Promise<Row | null>;
  /** Orders that gave way by hand since then (null: ever), with what was said of them. */
  gaveWay(since: unknown): Promise<Row[]>;
  /** Lines and sites of orders that have no question yet, with their outlook. */
  thinOrders(orderIds: readonly string[]): Promise<Row[]>;
  /** How much of the books is known: lines, read ones, first surveys ordered and left, assumed facts by name, questions. */
  knownSoFar(): Promise<Row>;
  /** Seconds driven and worked on live routes of days from one on. */
  onTheRoad(fromDay: IsoDate): Promise<{ driveSeconds: number; workSeconds: number }>;
  /** Orders on live routes from a day on: id, number, minutes, day. */
  placed(fromDay: IsoDate): Promise<Row[]>;
}
