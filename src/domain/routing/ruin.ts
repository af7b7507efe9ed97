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
    this.seed =
      state.absentCount > 0 && random.unit() < ABSENT_SEED_SHARE
        ? state.absent[random.below(state.absentCount)]!
        : random.below(n);
    if (placed === 0) return;

    const averageLength = placed / Math.max(1, state.usedRoutes);
    const longest = Math.min(LONGEST_STRING, averageLength);
    const mostStrings = (4 * AVERAGE_REMOVED) / (1 + longest) - 1;
    const strings = Math.floor(random.unit() * mostStrings + 1);
    let done = this.ruinAt(this.seed, random.unit() < EMPTY_SHARE ? LONGEST_EMPTIED : longest) ? 1 : 0;
    const row = this.seed * model.neighbourCount;
    for (let rank = 0; rank < model.neighbourCount && done < strings; rank++) {
      if (this.ruinAt(model.neighbours[row + rank]!, longest)) done++;
    }
    for (let at = 0; at < this.touchedCount; at++) this.settle(this.touched[at]!);
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
