/** An answer to a routing problem, with everything a dispatcher asks of it. */
export interface Plan {
  /** One per crew-day that goes out, sorted by day, then crew-day id. */
  readonly routes: readonly PlannedRoute[];
  /** Sorted by order id. */
  readonly unplaced: readonly UnplacedOrder[];
  readonly cost: CostBreakdown;
  /** One per route with overtime, in the order of the routes. */
  readonly overtime: readonly OvertimeBought[];
  readonly iterations: number;
}

export interface PlannedRoute {
  readonly crewDayId: string;
  readonly crewId: string;
  readonly day: number;
  /** The crew leaves as late as its first stop allows. */
  readonly leaveSeconds: number;
  readonly stops: readonly PlannedStop[];
  /** Travel from the last stop to the end location, and arrival there (a break may lie between). */
  readonly returnTravelSeconds: number;
  readonly returnTravelMetres: number;
  readonly endSeconds: number;
  readonly travelSeconds: number;
  readonly travelMetres: number;
  readonly overtimeSeconds: number;
  /** Shared items fetched for the day. */
  readonly sharedKitIds: readonly string[];
}

/** What a crew-day's overtime buys: how things would stand without it, the rest of the plan left as it is. */
export interface OvertimeBought {
  readonly crewDayId: string;
  readonly overtimeSeconds: number;
  readonly overtimeCost: number;
  /** Orders that would leave the route, and where they would go without overtime there; place null: left out. */
  readonly without: readonly {
    readonly orderId: string;
    readonly place: {
      readonly crewDayId: string;
      readonly crewId: string;
      readonly day: number;
      readonly startSeconds: number;
    } | null;
  }[];
  /** What that would cost more than it saves; null: no order can leave the route, or the time was up long ago. */
  readonly extraCost: number | null;
}

interface Stop {
  readonly location: number;
  /** Travel from the place before; zero for a break. */
  readonly travelSeconds: number;
  readonly travelMetres: number;
  readonly arrivalSeconds: number;
  readonly waitSeconds: number;
  readonly startSeconds: number;
  readonly endSeconds: number;
}

export interface VisitStop extends Stop {
  readonly kind: 'visit';
  readonly orderId: string;
}

export interface RefillStop extends Stop {
  /** `disposal` where only waste is given up, `refill` where water is taken too. */
  readonly kind: 'refill' | 'disposal';
  readonly siteId: string;
}

export interface BreakStop extends Stop {
  readonly kind: 'break';
  /** Taken in the midst of the visit before it, which ends that much later. */
  readonly during: boolean;
}

export type PlannedStop = VisitStop | RefillStop | BreakStop;

/** In minor units of money; `total` is the sum of the others. */
export interface CostBreakdown {
  readonly driving: number;
  readonly overtime: number;
  readonly crewUse: number;
  /** Waiting of placed orders, by the day they are served. */
  readonly waiting: number;
  /** Placed orders that left their accepted place. */
  readonly moves: number;
  /** Orders left out (an order that must be placed counts nothing here, but is listed as unplaced). */
  readonly unplaced: number;
  readonly total: number;
}

export type UnplacedCode =
  | 'no_kit'
  | 'no_people'
  | 'crew_not_allowed'
  | 'closed_season'
  | 'no_crew_that_day'
  | 'window_closed'
  | 'shift_too_short'
  | 'too_far'
  | 'no_time_for_break'
  | 'tank_too_small'
  | 'predecessor_unplaced'
  | 'too_soon_after_predecessor'
  | 'shared_kit_taken'
  | 'no_time_left'
  | 'costs_more_than_waiting'
  | 'search_ended';

export interface UnplacedOrder {
  readonly orderId: string;
  readonly code: UnplacedCode;
  readonly facts: Readonly<Record<string, string | number | readonly string[]>>;
  /** One sentence for the dispatcher. */
  readonly text: string;
  /**
   * The cheapest place there would be, with what it displaces; null when there is none. Long after the search should
   * have ended only places that displace nothing are looked for.
   */
  readonly cheapestPlace: Place | null;
}

/** Where an order could go in a plan, and what that would cost beyond leaving all as it is. */
export interface Place {
  readonly crewDayId: string;
  readonly crewId: string;
  readonly day: number;
  /** The order visited before it; null: first stop. */
  readonly afterOrderId: string | null;
  readonly startSeconds: number;
  /** Orders that lose their place. */
  readonly displaces: readonly string[];
  /** Driving, overtime, waiting and moves it adds, plus what the displaced orders cost when left out. */
  readonly extraCost: number;
}

/** A plan to start from: crew-day ids with order ids in sequence. */
export type StartRoutes = readonly { readonly crewDayId: string; readonly orderIds: readonly string[] }[];

export interface SearchProgress {
  readonly iteration: number;
  /** Share of the budget used, 0 to 1. */
  readonly share: number;
  readonly bestCost: number;
  readonly unplaced: number;
}
