/**
 * The question the route planner answers: which crew-day visits which order, in which sequence.
 * Seconds are whole seconds since midnight of the crew-day's own day; metres and litres are whole numbers;
 * money is whole minor units. Locations are indices into the travel matrix, days are indices into `days`.
 */
export interface RoutingProblem {
  /** The working days in order, named as people say them in reasons ("Thursday 4 June"). One to ten. */
  readonly days: readonly string[];
  /** Calendar day of each, counted from any one day, ascending; absent: they follow one another without a gap. */
  readonly calendarDays?: readonly number[];
  readonly travel: TravelMatrix;
  readonly crewDays: readonly CrewDay[];
  readonly orders: readonly Order[];
  /** Things that serve several crews, but only one crew-day at a time. */
  readonly sharedKit: readonly SharedKitItem[];
  /** Where tanks are filled with water or emptied of waste. */
  readonly refillSites: readonly RefillSite[];
  readonly costs: RoutingCosts;
}

/** Row-major: `seconds[from * size + to]`. Need not be symmetric, must be zero or more. */
export interface TravelMatrix {
  readonly size: number;
  readonly seconds: Int32Array;
  readonly metres: Int32Array;
}

/** One crew on one day: at most one route. */
export interface CrewDay {
  readonly id: string;
  readonly crewId: string;
  /** What people call the crew; the crew's id when absent. */
  readonly crewName?: string;
  readonly day: number;
  readonly startLocation: number;
  readonly endLocation: number;
  readonly shiftStartSeconds: number;
  readonly shiftEndSeconds: number;
  /** How long the crew may stay after its shift at most. */
  readonly overtimeSeconds: number;
  readonly overtimePerHour: number;
  /** In sequence; each must still be able to begin when the one before is over. */
  readonly breaks: readonly Break[];
  /** Kinds of kit on board this day (shared items apart). */
  readonly kit: readonly string[];
  readonly people: number;
  /** Fresh water that a full tank gives; null when water is not counted. */
  readonly tankLitres: number | null;
  /** Waste that fits on board; null when waste is not counted. */
  readonly wasteLitres: number | null;
  /** What it costs to send the crew out at all. */
  readonly useCost: number;
  /** Set when the crew has already left: where and when it is free for the next stop, and what it carries. */
  readonly underWay?: UnderWay;
}

export interface UnderWay {
  readonly location: number;
  readonly freeAtSeconds: number;
  /** What is on board says nothing where the tank is not counted. */
  readonly tankLitresLeft: number;
  readonly wasteLitresOnBoard: number;
}

/**
 * A rest with no place of its own: taken on arrival at a stop, in the midst of work, or before leaving, starting
 * inside the window. Falls away when the route is over by `latestStartSeconds`.
 */
export interface Break {
  readonly earliestStartSeconds: number;
  readonly latestStartSeconds: number;
  readonly seconds: number;
}

export interface Order {
  readonly id: string;
  /** What people call the order ("order 1043"); its id when absent. */
  readonly name?: string;
  readonly location: number;
  readonly serviceSeconds: number;
  /** By crew id, where a crew differs from `serviceSeconds`. */
  readonly serviceSecondsByCrew?: Readonly<Record<string, number>>;
  /** Alternatives; work *starts* inside one of them (waiting is free). Empty: any time of any day. */
  readonly windows: readonly OrderWindow[];
  /** Kinds of kit needed; each is on board or a shared item of that kind is fetched for the day. */
  readonly needs: readonly string[];
  readonly people: number;
  /** Crew ids that may go; absent: all. */
  readonly onlyCrews?: readonly string[];
  /** Crew-day ids on which it is not done: a closed season of that depot. */
  readonly closedCrewDays?: readonly string[];
  /** Fresh water used, and waste taken on board. */
  readonly waterLitres: number;
  readonly wasteLitres: number;
  /** What waiting costs when served on day d, `waitingCost[d]`; empty: nothing on any day. */
  readonly waitingCost: readonly number[];
  /** What it costs to leave the order out; null: it must be placed if it can be. */
  readonly unplacedCost: number | null;
  /** What must be done before: on an earlier day, or (with zero days between) earlier on the same route. */
  readonly follows: readonly Following[];
  readonly lock?: Lock;
  /** Its place in the plan that people already rely on; going elsewhere costs. */
  readonly accepted?: AcceptedPlace;
  /** It gives way to no order of a lower rank; absent: 0. */
  readonly rank?: number;
}

export interface OrderWindow {
  /** Absent: every day. */
  readonly day?: number;
  readonly fromSeconds: number;
  readonly toSeconds: number;
}

export interface Following {
  /** Must be an order of the same problem; leave done work out. */
  readonly orderId: string;
  /** Calendar days: what settles or cures does so over a weekend too. */
  readonly minDaysBetween: number;
}

/** Each part that is set must be kept. */
export interface Lock {
  readonly day?: number;
  readonly crewId?: string;
  /** Work starts inside this hour. */
  readonly fromSeconds?: number;
  readonly toSeconds?: number;
  /** Orders of one crew-day that carry a sequence are visited in ascending sequence. */
  readonly sequence?: number;
}

export interface AcceptedPlace {
  readonly day: number;
  readonly crewId: string;
  /** Cost of serving it on another day, or of leaving it out. */
  readonly otherDayCost: number;
  /** Cost of sending another crew on the same day. */
  readonly otherCrewCost: number;
  /** When people rely on the work to start, and what it costs to come a quarter of an hour or more before or after. */
  readonly startSeconds?: number;
  readonly otherHourCost?: number;
}

export interface SharedKitItem {
  readonly id: string;
  readonly kind: string;
  /** Crew ids that may take it; absent: all. */
  readonly crews?: readonly string[];
  /** Days on which it is in service; absent: all. */
  readonly days?: readonly number[];
}

export interface RefillSite {
  readonly id: string;
  readonly location: number;
  /** Time to connect, fill or empty. */
  readonly seconds: number;
  readonly givesWater: boolean;
  readonly takesWaste: boolean;
}

export interface RoutingCosts {
  readonly drivingPerHour: number;
  readonly drivingPerKm: number;
  /** Overtime is kept only where going without would cost so many times its price; absent: 1. */
  readonly overtimeGain?: number;
}
