import { bestInsertion, mayEnter } from './insertion.js';
import type { RouteState } from './routeState.js';

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

  /** Result of `findBest` and `findTwo`: route -1 when the order fits nowhere. */
  route = -1;
  place = -1;
  bestCost = Infinity;
  secondCost = Infinity;

  constructor(state: RouteState) {
    const cells = state.model.orderCount * state.model.crewDayCount;
    this.state = state;
    this.version = new Int32Array(cells).fill(-1);
    this.cost = new Float64Array(cells);
    this.after = new Int32Array(cells);
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
   * Best place for order c over all candidate routes, each passed over when `blink` says so.
   * @returns Its cost, `Infinity` when there is none.
   */
  findBest(c: number, blink: () => boolean): number {
    const { state, version, cost } = this;
    const { model, candidates } = state;
    const V = model.crewDayCount;
    const linked = model.linked[c] === 1;
    const row = c * V;
    let best = Infinity;
    let bestRoute = -1;
    state.refreshCandidates();
    for (let at = 0; at < state.candidateCount; at++) {
      const v = candidates[at]!;
      const cell = row + v;
      if (model.able[cell] === 0) continue;
      if (version[cell] !== state.version[v]) {
        version[cell] = state.version[v]!;
        cost[cell] = bestInsertion(state, c, v);
        this.after[cell] = state.foundAfter;
      }
      if (cost[cell]! < best && !blink() && (!linked || mayEnter(state, c, v))) {
        best = cost[cell]!;
        bestRoute = v;
      }
    }
    this.route = bestRoute;
    this.place = bestRoute === -1 ? -1 : this.after[row + bestRoute]!;
    this.bestCost = best;
    return best;
  }

  /** As `findBest` without blinking, with the cheapest cost on any other route in `secondCost`. */
  findTwo(c: number): void {
    const { state } = this;
    this.route = -1;
    this.bestCost = Infinity;
    this.secondCost = Infinity;
    state.refreshCandidates();
    for (let at = 0; at < state.candidateCount; at++) {
      const v = state.candidates[at]!;
      const cost = this.costOn(c, v);
      if (cost >= this.secondCost || !this.enters(c, v)) continue;
      if (cost < this.bestCost) {
        this.secondCost = this.bestCost;
        this.bestCost = cost;
        this.route = v;
      } else {
        this.secondCost = cost;
      }
    }
    if (this.route !== -1) this.costOn(c, this.route);
  }

  private enters(c: number, v: number): boolean {
    return this.state.model.linked[c] === 0 || mayEnter(this.state, c, v);
  }
}
