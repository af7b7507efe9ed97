import type { CrewDay, Order, RefillSite, RoutingProblem, SharedKitItem } from './problem.js';
import type { WindowTable } from './windows.js';

/**
 * The problem as numbers, in canonical order (orders by id, crew-days by day and id), so that the order
 * of the input changes nothing. Orders are nodes 0 to n-1, the start of crew-day v is node n+v and its end
 * node n+V+v. Pairs are row-major: order and crew-day `c * V + v`, order and day `c * D + d`.
 */
export interface Model {
  readonly problem: RoutingProblem;
  readonly orders: readonly Order[];
  readonly crewDays: readonly CrewDay[];
  readonly orderIndex: ReadonlyMap<string, number>;
  readonly crewDayIndex: ReadonlyMap<string, number>;

  readonly orderCount: number;
  readonly crewDayCount: number;
  readonly dayCount: number;
  readonly nodeCount: number;

  /** Travel between locations, `from * size + to`: money and seconds. */
  readonly size: number;
  readonly arcCost: Int32Array;
  readonly arcSeconds: Int32Array;
  readonly locationOf: Int32Array;

  readonly dayOf: Int32Array;
  /** Calendar day of each crew-day, by which days between linked orders are counted. */
  readonly calendarOf: Int32Array;
  readonly shiftStart: Int32Array;
  readonly shiftEnd: Int32Array;
  /** Shift end and the overtime allowed. */
  readonly latestEnd: Int32Array;
  readonly overtimePerHour: Float64Array;
  /** What the leg from start to end counts when nobody goes: the drive home of a crew under way, else minus the use cost. */
  readonly emptyLeg: Float64Array;
  /** Crew-days with the same number are interchangeable as long as they are empty. */
  readonly crewDayClass: Int32Array;

  /** Most breaks of any crew-day; times are kept in layers 0 to this by breaks taken. */
  readonly maxBreaks: number;
  readonly breakCount: Int32Array;
  /** Break b of crew-day v at `v * maxBreaks + b`. */
  readonly breakEarliest: Int32Array;
  readonly breakLatest: Int32Array;
  readonly breakSeconds: Int32Array;

  readonly able: Uint8Array;
  readonly serviceSeconds: Int32Array;
  /** Waiting cost of the day plus what leaving the accepted place costs, per order and crew-day. */
  readonly placeCost: Float64Array;
  /** Cost of leaving out; for an order that must be placed more than all else can cost together. */
  readonly leaveCost: Float64Array;
  /** What leaving out an order that must be placed counts in `leaveCost`. */
  readonly mustCost: number;
  readonly windows: WindowTable;
  /** First opening and last closing per order and day, and whether there is a gap between. */
  readonly opens: Int32Array;
  readonly closes: Int32Array;
  readonly gapped: Uint8Array;

  readonly waterLitres: Float64Array;
  readonly wasteLitres: Float64Array;
  /** Water at the start and after a refill; room for waste at the start and after a disposal. */
  readonly startWater: Float64Array;
  readonly fullWater: Float64Array;
  readonly startRoom: Float64Array;
  readonly fullRoom: Float64Array;
  readonly refillSites: readonly RefillSite[];

  /** Direct predecessors and successors, with the days that must lie between. */
  readonly before: readonly (readonly DayLink[])[];
  readonly after: readonly (readonly DayLink[])[];
  /** Length of the longest chain of orders that ends with this one. */
  readonly depth: Int32Array;
  /** Sequence lock, or -1. */
  readonly sequence: Int32Array;
  /** 1 where places inside a route depend on its other stops (sequence lock, or a link of zero days). */
  readonly ordered: Uint8Array;

  /** Kinds that exist as shared items; kind k of order c at `c * K + k` is 1 when needed. */
  readonly sharedKinds: readonly string[];
  readonly sharedItems: readonly SharedKitItem[];
  readonly needsShared: Uint8Array;
  readonly ownsShared: Uint8Array;
  /** 1 where entering a route depends on other routes too (links, shared kit). */
  readonly linked: Uint8Array;

  /** The nearest other orders of each order, nearest first, `neighbourCount` a row. */
  readonly neighbours: Int32Array;
  readonly neighbourCount: number;
  /** Typical cost between near orders: the scale of the search's temperature. */
  readonly typicalLeg: number;
}

export interface DayLink {
  readonly order: number;
  readonly minDays: number;
}
