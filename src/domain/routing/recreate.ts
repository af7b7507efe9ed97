import { insert } from './insert.js';
import type { InsertionCache } from './insertionCache.js';
import type { Random } from './random.js';
import type { RouteState } from './routeState.js';
import type { Ruin } from './ruin.js';

/** Share of places passed over, so that the same ruin is not always rebuilt the same way. */
const BLINK_SHARE = 0.01;
/** How often every route is tried, not only those near by. */
const THOROUGH_SHARE = 0.05;
/** How often, and how far, an order may cost more than leaving it out: two together can pay for a route that one cannot. */
const GENEROUS_SHARE = 0.05;
const GENEROSITY = 2;
/** Most orders left out that are tried again around a ruin. */
const ABSENT_TRIES = 12;

/**
 * Puts orders back one by one, each where it is cheapest now, in a random sequence of one of several kinds;
 * among them some of those left out before. An order that costs more than leaving it out stays out.
 */
export class Recreate {
  private readonly state: RouteState;
  private readonly cache: InsertionCache;
  private readonly random: Random;
  private readonly list: Int32Array;
  private readonly keys: Float64Array;
  private readonly inList: Int32Array;
  private round = 0;
  private count = 0;
  private untilBlink = 0;
  private readonly blink = (): boolean => {
    if (this.untilBlink-- > 0) return false;
    this.untilBlink = Math.floor(Math.log(1 - this.random.unit()) / Math.log(1 - BLINK_SHARE));
    return true;
  };

  /** Routes that got an order, with repeats. */
  readonly touched: Int32Array;
  touchedCount = 0;
  readonly inserted: Int32Array;
  insertedCount = 0;

  constructor(state: RouteState, cache: InsertionCache, random: Random) {
    const n = state.model.orderCount;
    this.state = state;
    this.cache = cache;
    this.random = random;
    this.list = new Int32Array(n);
    this.keys = new Float64Array(n);
    this.inList = new Int32Array(n);
    this.touched = new Int32Array(n);
    this.inserted = new Int32Array(n);
  }

  run(ruin: Ruin): void {
    const { state, cache } = this;
    this.touchedCount = 0;
    this.insertedCount = 0;
    this.gather(ruin);
    this.sort(ruin.madeRoom ? ruin.seed : -1);
    const thorough = ruin.madeRoom || this.random.unit() < THOROUGH_SHARE;
    const patience = this.random.unit() < GENEROUS_SHARE ? GENEROSITY : 1;
    for (let at = 0; at < this.count; at++) {
      const c = this.list[at]!;
      const cost = thorough ? cache.findBest(c, this.blink) : cache.findNear(c, this.blink);
      if (cost >= state.model.leaveCost[c]! * patience) continue;
      const v = cache.route;
      insert(state, c, cache.place, v);
      this.touched[this.touchedCount++] = v;
      this.inserted[this.insertedCount++] = c;
    }
  }

  /** What was removed, the seed of the ruin, and orders left out: near the seed, and any. */
  private gather(ruin: Ruin): void {
    const { state, random } = this;
    const { neighbours, neighbourCount } = state.model;
    this.round++;
    this.count = 0;
    for (let at = 0; at < ruin.removedCount; at++) this.offer(ruin.removed[at]!);
    const before = state.absentCount - ruin.removedCount;
    if (before <= 0) return;
    this.offer(ruin.seed);
    const most = this.count + ABSENT_TRIES;
    const row = ruin.seed * neighbourCount;
    for (let rank = 0; rank < neighbourCount && rank < 40 && this.count < most; rank++) {
      if (random.unit() < 0.5) this.offer(neighbours[row + rank]!);
    }
    for (let tries = 0; tries < 4; tries++) this.offer(state.absent[random.below(state.absentCount)]!);
  }

  private offer(c: number): void {
    if (this.state.routeOf[c] !== -1 || this.inList[c] === this.round) return;
    this.inList[c] = this.round;
    this.list[this.count++] = c;
  }

  /** Sorts by a random kind of key; `first` comes before all others. */
  private sort(first: number): void {
    const { list, keys, count } = this;
    this.fillKeys();
    for (let at = 0; at < count; at++) if (list[at] === first) keys[at] = -Infinity;
    for (let at = 1; at < count; at++) {
      const c = list[at]!;
      const key = keys[at]!;
      let to = at;
      while (to > 0 && keys[to - 1]! > key) {
        list[to] = list[to - 1]!;
        keys[to] = keys[to - 1]!;
        to--;
      }
      list[to] = c;
      keys[to] = key;
    }
  }

  private fillKeys(): void {
    const { state, random, list, keys, count } = this;
    const { model } = state;
    const { dayCount: D } = model;
    const kind = random.below(17);
    const day = random.below(D);
    for (let at = 0; at < count; at++) {
      const c = list[at]!;
      let key: number;
      if (kind < 5) key = random.unit();
      else if (kind < 7) key = -model.waterLitres[c]! - model.wasteLitres[c]!;
      else if (kind < 9) key = this.fromYard(c, D > 0 ? day : 0);
      else if (kind < 10) key = -this.fromYard(c, D > 0 ? day : 0);
      else if (kind < 12) key = model.closes[c * D + day]! - model.opens[c * D + day]!;
      else if (kind < 13) key = model.opens[c * D + day]!;
      else if (kind < 14) key = -model.closes[c * D + day]!;
      else if (kind < 16) key = -model.leaveCost[c]! / (model.orders[c]!.serviceSeconds + model.typicalLeg);
      else key = -model.leaveCost[c]!;
      // A chain is put back from its first order on.
      keys[at] = key + (model.depth[c]! - 1) * 1e15;
    }
  }

  /** Minus the travel cost to a yard: far orders first. */
  private fromYard(c: number, day: number): number {
    const { model } = this.state;
    const start = model.locationOf[model.orderCount + (day % model.crewDayCount)]!;
    return -model.arcCost[start * model.size + model.locationOf[c]!]!;
  }
}
