import { bestInsertion, bestWithoutRefills, mayEnter, wouldRefill } from './insertion.js';
import type { RouteState } from './routeState.js';

/** With at most so many routes all are tried, beyond that those of the nearest orders. */
const FEW_ROUTES = 32;
const NEAR_ORDERS = 50;

/**
 * Best insertion of every order into every route, remembered until the route changes. Most routes stay as
 * they are from one iteration to the next (a rejected change brings the old version back), so that a
 * thousand orders cost hardly more to try than a hundred.
 */
export class InsertionCache {
  private readonly state: RouteState;
  private readonly version: Int32Array;
  private readonly cost: Float64Array;
  private readonly after: Int32Array;
  /** The least an order adds to a route with refill stops; empty where there are none. */
  private readonly floorVersion: Int32Array;
  private readonly floor: Float64Array;
  private readonly seen: Int32Array;
  private round = 0;

  /** Result of `findBest` and `findTwo`: route -1 when the order fits nowhere. */
  route = -1;
  place = -1;
  bestCost = Infinity;
  secondCost = Infinity;
  secondRoute = -1;

  constructor(state: RouteState) {
    const cells = state.model.orderCount * state.model.crewDayCount;
    this.state = state;
    this.version = new Int32Array(cells).fill(-1);
    this.cost = new Float64Array(cells);
    this.after = new Int32Array(cells);
    const floors = state.model.refillSites.length > 0 ? cells : 0;
    this.floorVersion = new Int32Array(floors).fill(-1);
    this.floor = new Float64Array(floors);
    this.seen = new Int32Array(state.model.crewDayCount);
  }

  /** Cheapest cost of putting order c on route v; `place` tells where. */
  costOn(c: number, v: number): number {
    const { state } = this;
    const cell = c * state.model.crewDayCount + v;
    if (this.version[cell] !== state.version[v]) {
      this.version[cell] = state.version[v]!;
      this.cost[cell] = bestInsertion(state, c, v);
      this.after[cell] = state.foundAfter;
    }
    this.place = this.after[cell]!;
    return this.cost[cell]!;
  }

  /**
   * Best place for order c over all candidate routes, each passed over when `blink` says so; one with refill stops
   * also where what it adds without them is no less than the best.
   * @returns Its cost, `Infinity` when there is none.
   */
  findBest(c: number, blink: () => boolean): number {
    const { state } = this;
    state.refreshCandidates();
    this.bestCost = Infinity;
    this.route = -1;
    for (let at = 0; at < state.candidateCount; at++) this.tryRoute(c, state.candidates[at]!, blink);
    this.place = this.route === -1 ? -1 : this.after[c * state.model.crewDayCount + this.route]!;
    return this.bestCost;
  }

  /** As `findBest` over the routes of the nearest orders and empty ones; over all when those are few or full. */
  findNear(c: number, blink: () => boolean): number {
    const { state } = this;
    const { neighbours, neighbourCount, crewDayCount } = state.model;
    state.refreshCandidates();
    if (state.candidateCount <= FEW_ROUTES) return this.findBest(c, blink);
    this.bestCost = Infinity;
    this.route = -1;
    this.round++;
    const from = c * neighbourCount;
    const to = from + Math.min(neighbourCount, NEAR_ORDERS);
    for (let at = from; at < to; at++) {
      const v = state.routeOf[neighbours[at]!]!;
      if (v === -1 || this.seen[v] === this.round) continue;
      this.seen[v] = this.round;
      this.tryRoute(c, v, blink);
    }
    for (let at = 0; at < state.emptyCandidateCount; at++)
      this.tryRoute(c, state.emptyCandidates[at]!, blink);
    if (this.route === -1) return this.findBest(c, blink);
    this.place = this.after[c * crewDayCount + this.route]!;
    return this.bestCost;
  }

  private tryRoute(c: number, v: number, blink: () => boolean): void {
    const { state, version, cost } = this;
    const { model } = state;
    const cell = c * model.crewDayCount + v;
    if (model.able[cell] === 0) return;
    if (version[cell] !== state.version[v]) {
      if (this.floor.length > 0 && this.floorOf(c, v, cell) >= this.bestCost) return;
      version[cell] = state.version[v]!;
      cost[cell] = bestInsertion(state, c, v);
      this.after[cell] = state.foundAfter;
    }
    if (cost[cell]! >= this.bestCost || blink() || !this.enters(c, v)) return;
    this.bestCost = cost[cell]!;
    this.route = v;
  }

  private floorOf(c: number, v: number, cell: number): number {
    const { state, floor, floorVersion } = this;
    if (!wouldRefill(state, c, v)) return -Infinity;
    if (floorVersion[cell] !== state.version[v]) {
      floorVersion[cell] = state.version[v]!;
      floor[cell] = bestWithoutRefills(state, c, v);
    }
    return floor[cell]!;
  }

  /** As `findBest` over every candidate route, with the cheapest cost on any other route in `secondCost`. */
  findTwo(c: number): void {
    const { state } = this;
    this.route = -1;
    this.bestCost = Infinity;
    this.secondCost = Infinity;
    this.secondRoute = -1;
    state.refreshCandidates();
    for (let at = 0; at < state.candidateCount; at++) {
      const v = state.candidates[at]!;
      const cost = this.costOn(c, v);
      if (cost >= this.secondCost || !this.enters(c, v)) continue;
      if (cost < this.bestCost) {
        this.secondCost = this.bestCost;
        this.secondRoute = this.route;
        this.bestCost = cost;
        this.route = v;
      } else {
        this.secondCost = cost;
        this.secondRoute = v;
      }
    }
    if (this.route !== -1) this.costOn(c, this.route);
  }

  private enters(c: number, v: number): boolean {
    return this.state.model.linked[c] === 0 || mayEnter(this.state, c, v);
  }
}
