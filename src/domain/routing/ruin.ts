import type { Random } from './random.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';

/** Orders taken out on average, and the longest string: as in the paper. */
const AVERAGE_REMOVED = 10;
const LONGEST_STRING = 10;
/** How often a string leaves an order inside it in place, and how often one more. */
const SPLIT_SHARE = 0.5;
const LONGER_GAP = 0.01;

/** How often the first route hit is emptied: the way to one route fewer, or to other ones. */
const EMPTY_SHARE = 0.05;
const LONGEST_EMPTIED = 40;

/** How often the work is done around an order left out, however few there are. */
const ABSENT_SEED_SHARE = 0.2;
/**
 * How often that is the dearest of them, else any. An order that few crews can do stays out for long if the work is
 * done around the others. Measured at 60,000 iterations, six seeds, mean against a planted plan: several days
 * +16.7 % with none of this, +9.5 % with room made for any, +1.3 % for the dearest half the time.
 */
const DEAREST_SHARE = 0.5;
/** How often room for it is made on a route that may take it, wherever that route runs. */
const MAKE_ROOM_SHARE = 0.5;

/**
 * Takes strings of neighbouring stops out of routes near a random order, whether that order is placed or
 * left out: room is made where something could go in.
 *
 * @see Christiaens & Vanden Berghe (2020), Slack induction by string removals, Transp. Sci. 54(2), 417-433.
 */
export class Ruin {
  private readonly state: RouteState;
  private readonly random: Random;
  private readonly hit: Int32Array;
  private round = 0;

  /** Orders taken out, and the routes they came from, of the last call. */
  readonly removed: Int32Array;
  removedCount = 0;
  readonly touched: Int32Array;
  touchedCount = 0;
  /** The order around which the last call worked. */
  seed = 0;
  /** Whether room was made for the seed, which is left out, on a route that may take it. */
  madeRoom = false;

  constructor(state: RouteState, random: Random) {
    this.state = state;
    this.random = random;
    this.hit = new Int32Array(state.model.crewDayCount);
    this.removed = new Int32Array(state.model.orderCount);
    this.touched = new Int32Array(state.model.crewDayCount);
  }

  run(): void {
    const { state, random } = this;
    const { model } = state;
    const n = model.orderCount;
    this.round++;
    this.removedCount = 0;
    this.touchedCount = 0;
    const placed = n - state.absentCount;
    this.madeRoom = false;
    let centre = -1;
    if (state.absentCount > 0 && random.unit() < ABSENT_SEED_SHARE) {
      this.seed = this.absentSeed();
      if (placed > 0 && random.unit() < MAKE_ROOM_SHARE) centre = this.stopToGiveWay(this.seed);
    } else {
      this.seed = random.below(n);
    }
    if (placed === 0) return;
    this.madeRoom = centre !== -1;
    if (centre === -1) centre = this.seed;

    const averageLength = placed / Math.max(1, state.usedRoutes);
    const longest = Math.min(LONGEST_STRING, averageLength);
    const mostStrings = (4 * AVERAGE_REMOVED) / (1 + longest) - 1;
    const strings = Math.floor(random.unit() * mostStrings + 1);
    let done = this.ruinAt(centre, random.unit() < EMPTY_SHARE ? LONGEST_EMPTIED : longest) ? 1 : 0;
    const row = centre * model.neighbourCount;
    for (let rank = 0; rank < model.neighbourCount && done < strings; rank++) {
      if (this.ruinAt(model.neighbours[row + rank]!, longest)) done++;
    }
    for (let at = 0; at < this.touchedCount; at++) this.settle(this.touched[at]!);
  }

  /** The dearest order left out (of equals a random one), or any of them. */
  private absentSeed(): number {
    const { state, random } = this;
    const { leaveCost } = state.model;
    if (random.unit() >= DEAREST_SHARE) return state.absent[random.below(state.absentCount)]!;
    let dearest = state.absent[0]!;
    let equals = 1;
    for (let at = 1; at < state.absentCount; at++) {
      const c = state.absent[at]!;
      if (leaveCost[c]! < leaveCost[dearest]!) continue;
      equals = leaveCost[c]! > leaveCost[dearest]! ? 1 : equals + 1;
      if (random.below(equals) === 0) dearest = c;
    }
    return dearest;
  }

  /**
   * On a random route that may take order c the stop nearest to it in place and hour; -1 when no such route has
   * any. An order with few able crews is often far from their stops: the stops around it are in nobody's way.
   */
  private stopToGiveWay(c: number): number {
    const { state, random } = this;
    const { able, crewDayCount: V, dayCount: D, dayOf, orderCount: n } = state.model;
    const { arcSeconds, locationOf, size, opens, closes } = state.model;
    let chosen = -1;
    let found = 0;
    for (let v = 0; v < V; v++) {
      if (able[c * V + v] === 0 || state.length[v] === 0) continue;
      if (random.below(++found) === 0) chosen = v;
    }
    if (chosen === -1) return -1;
    const pair = c * D + dayOf[chosen]!;
    const row = locationOf[c]! * size;
    let nearest = -1;
    let least = Infinity;
    for (let j = state.next[n + chosen]!; j < n; j = state.next[j]!) {
      const left = state.ready[j]!;
      const gap = Math.max(0, opens[pair]! - left, left - closes[pair]!);
      const distance = arcSeconds[row + locationOf[j]!]! + gap;
      if (distance >= least) continue;
      least = distance;
      nearest = j;
    }
    return nearest;
  }

  private ruinAt(c: number, longest: number): boolean {
    const { state, random } = this;
    const v = state.routeOf[c]!;
    if (v === -1 || this.hit[v] === this.round) return false;
    const length = state.length[v]!;
    const most = Math.min(length, longest);
    const all = longest === LONGEST_EMPTIED && length <= LONGEST_EMPTIED;
    const count = all ? length : Math.floor(random.unit() * most + 1);
    if (count > 1 && count < length && random.unit() < SPLIT_SHARE) this.removeSplit(c, v, count);
    else this.removeString(c, v, count, 0);
    return true;
  }

  private removeSplit(c: number, v: number, count: number): void {
    const spare = this.state.length[v]! - count;
    let keep = 1;
    while (keep < spare && this.random.unit() < LONGER_GAP) keep++;
    this.removeString(c, v, count, keep);
  }

  /** Removes `count` orders of a string of `count + keep` that holds c; `keep` inside it stay. */
  private removeString(c: number, v: number, count: number, keep: number): void {
    const { state, random } = this;
    const { model, next, prev } = state;
    const span = Math.min(state.length[v]!, count + keep);
    // Walk back to where the string starts, as far as the route allows.
    let back = random.below(span);
    let first = c;
    while (back > 0 && prev[first]! < model.orderCount) {
      first = prev[first]!;
      back--;
    }
    // Too near the end of the route: start earlier.
    let ahead = 1;
    for (let j = first; next[j]! < model.orderCount && ahead < span; j = next[j]!) ahead++;
    while (ahead < span) {
      first = prev[first]!;
      ahead++;
    }
    const keepFrom = keep > 0 ? 1 + random.below(Math.max(1, count - 1)) : span;
    let at = first;
    for (let index = 0; index < span && at < model.orderCount; index++) {
      const following = next[at]!;
      if (index < keepFrom || index >= keepFrom + keep) this.remove(at);
      at = following;
    }
  }

  /** Takes out c and, as they must not stay without it, all orders that follow it. */
  private remove(c: number): void {
    const { state } = this;
    const v = state.routeOf[c]!;
    if (v === -1) return;
    this.touch(v);
    state.unlink(c);
    this.removed[this.removedCount++] = c;
    for (const link of state.model.after[c]!) this.remove(link.order);
  }

  private touch(v: number): void {
    if (this.hit[v] === this.round) return;
    this.hit[v] = this.round;
    this.touched[this.touchedCount++] = v;
  }

  /** Where a shortcut takes longer than the way round, a shorter route can be late: it gives up its last stops. */
  private settle(v: number): void {
    const { state } = this;
    const { orderCount: n, crewDayCount: V } = state.model;
    while (!refresh(state, v)) this.remove(state.prev[n + V + v]!);
  }
}
