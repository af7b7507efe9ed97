const FIRST_SIZE = 64;

/**
 * Ways to have served orders of a route, in columns: cost, water and room left, and times by breaks taken (label l's
 * at `l * layers`). Labels of one order stand together, a front; what another of its front beats in every respect
 * is not kept.
 */
export class RefillLabels {
  readonly layers: number;
  count = 0;
  cost = new Float64Array(FIRST_SIZE);
  water = new Float64Array(FIRST_SIZE);
  room = new Float64Array(FIRST_SIZE);
  times: Int32Array;
  /** The label it was reached from, and the sites visited on the way; -1 for none. */
  before = new Int32Array(FIRST_SIZE);
  first = new Int32Array(FIRST_SIZE);
  second = new Int32Array(FIRST_SIZE);
  /** Times of the label offered next. */
  readonly offered: Int32Array;
  /** Where the front begins that is being made. */
  private front = 0;
  private waterCap = 0;
  private roomCap = 0;

  constructor(layers: number) {
    this.layers = layers;
    this.times = new Int32Array(FIRST_SIZE * layers);
    this.offered = new Int32Array(layers);
  }

  clear(): void {
    this.count = 0;
  }

  /** Labels offered from here on are of one front; litres beyond those to come are worth nothing. */
  beginFront(waterToCome: number, wasteToCome: number): void {
    this.front = this.count;
    this.waterCap = waterToCome;
    this.roomCap = wasteToCome;
  }

  /** Keeps a label with the times in `offered`, unless one of the front is as good; drops those it beats. */
  offer(
    cost: number,
    waterLeft: number,
    roomLeft: number,
    before: number,
    first: number,
    second: number,
  ): void {
    const { layers } = this;
    const water = Math.min(waterLeft, this.waterCap);
    const room = Math.min(roomLeft, this.roomCap);
    let to = this.front;
    for (let label = this.front; label < this.count; label++) {
      const dearer = this.cost[label]! - cost;
      const wetter = this.water[label]! - water;
      const roomier = this.room[label]! - room;
      if (dearer <= 0 && wetter >= 0 && roomier >= 0 && this.compare(label) <= 0) return;
      if (dearer >= 0 && wetter <= 0 && roomier <= 0 && this.compare(label) >= 0) continue;
      if (to !== label) this.move(label, to);
      to++;
    }
    if (to === this.cost.length) this.grow();
    this.count = to + 1;
    this.cost[to] = cost;
    this.water[to] = water;
    this.room[to] = room;
    this.before[to] = before;
    this.first[to] = first;
    this.second[to] = second;
    for (let b = 0; b < layers; b++) this.times[to * layers + b] = this.offered[b]!;
  }

  /** Below zero: the label's times are no later than those offered; above: no earlier; 0: the same; NaN: neither. */
  private compare(label: number): number {
    const { times, offered, layers } = this;
    let sign = 0;
    for (let b = 0; b < layers; b++) {
      const later = times[label * layers + b]! - offered[b]!;
      if (later === 0) continue;
      if (sign !== 0 && later > 0 !== sign > 0) return NaN;
      sign = later;
    }
    return sign;
  }

  private move(from: number, to: number): void {
    const { layers } = this;
    this.cost[to] = this.cost[from]!;
    this.water[to] = this.water[from]!;
    this.room[to] = this.room[from]!;
    this.before[to] = this.before[from]!;
    this.first[to] = this.first[from]!;
    this.second[to] = this.second[from]!;
    for (let b = 0; b < layers; b++) this.times[to * layers + b] = this.times[from * layers + b]!;
  }

  private grow(): void {
    const larger = <A extends Float64Array | Int32Array>(large: A, small: A): A => {
      large.set(small);
      return large;
    };
    const size = 2 * this.cost.length;
    this.cost = larger(new Float64Array(size), this.cost);
    this.water = larger(new Float64Array(size), this.water);
    this.room = larger(new Float64Array(size), this.room);
    this.before = larger(new Int32Array(size), this.before);
    this.first = larger(new Int32Array(size), this.first);
    this.second = larger(new Int32Array(size), this.second);
    this.times = larger(new Int32Array(size * this.layers), this.times);
  }
}
