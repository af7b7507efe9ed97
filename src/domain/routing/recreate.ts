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

type KeyKind =
  | 'any'
  | 'mostLitres'
  | 'farthest'
  | 'nearest'
  | 'shortestHours'
  | 'opensFirst'
  | 'closesLast'
  | 'dearestForItsTime'
  | 'dearest';

/** By what orders are put back, and how often of `KEY_WEIGHT` times. */
const KEYS: readonly (readonly [KeyKind, number])[] = [
  ['any', 5],
  ['mostLitres', 2],
  ['farthest', 2],
  ['nearest', 1],
  ['shortestHours', 2],
  ['opensFirst', 1],
  ['closesLast', 1],
  ['dearestForItsTime', 2],
  ['dearest', 1],
];
const KEY_WEIGHT = KEYS.reduce((sum, [, weight]) => sum + weight, 0);

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
    const { random, list, keys, count } = this;
    const { model } = this.state;
    const kind = this.drawKind();
    const crewDay = random.below(model.crewDayCount);
    const day = model.dayOf[crewDay]!;
    const yard = model.orderCount + crewDay;
    for (let at = 0; at < count; at++) {
      const c = list[at]!;
      // A chain is put back from its first order on.
      keys[at] = this.keyOf(kind, c, day, yard) + (model.depth[c]! - 1) * 1e15;
    }
  }

  private drawKind(): KeyKind {
    let draw = this.random.below(KEY_WEIGHT);
    for (const [kind, weight] of KEYS) {
      draw -= weight;
      if (draw < 0) return kind;
    }
    return 'any';
  }

  private keyOf(kind: KeyKind, c: number, day: number, yard: number): number {
    const { model } = this.state;
    const pair = c * model.dayCount + day;
    switch (kind) {
      case 'any':
        return this.random.unit();
      case 'mostLitres':
        return -model.waterLitres[c]! - model.wasteLitres[c]!;
      case 'farthest':
        return -this.fromYard(c, yard);
      case 'nearest':
        return this.fromYard(c, yard);
      case 'shortestHours':
        return model.closes[pair]! - model.opens[pair]!;
      case 'opensFirst':
        return model.opens[pair]!;
      case 'closesLast':
        return -model.closes[pair]!;
      case 'dearestForItsTime':
        return -model.leaveCost[c]! / (model.orders[c]!.serviceSeconds + model.typicalLeg);
      case 'dearest':
        return -model.leaveCost[c]!;
      default:
        return kind satisfies never;
    }
  }

  private fromYard(c: number, yard: number): number {
    const { model } = this.state;
    return model.arcCost[model.locationOf[yard]! * model.size + model.locationOf[c]!]!;
  }
}
