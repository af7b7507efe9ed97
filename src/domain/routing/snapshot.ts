import type { Recreate } from './recreate.js';
import { refresh } from './refresh.js';
import type { RouteState } from './routeState.js';
import type { Ruin } from './ruin.js';

/** The sequence of every route at one moment, and its cost; follows or takes back one change at a time. */
export class Snapshot {
  private readonly state: RouteState;
  private readonly next: Int32Array;
  private readonly version: Int32Array;
  private readonly routeCost: Float64Array;
  private readonly changed: Int32Array;
  private readonly mark: Int32Array;
  private changedCount = 0;
  private round = 0;
  /** Routes and orders left out. */
  cost: number;
  absentCount: number;

  constructor(state: RouteState) {
    this.state = state;
    this.next = state.next.slice();
    this.version = state.version.slice();
    this.routeCost = state.routeCost.slice();
    this.changed = new Int32Array(state.model.crewDayCount);
    this.mark = new Int32Array(state.model.crewDayCount);
    this.absentCount = state.absentCount;
    this.cost = totalCost(state);
  }

  /** Cost of the state now, after one ruin and recreate since the snapshot. */
  costAfter(ruin: Ruin, recreate: Recreate): number {
    const { state } = this;
    const { leaveCost } = state.model;
    this.round++;
    this.changedCount = 0;
    let cost = this.cost;
    for (let at = 0; at < ruin.touchedCount; at++) cost += this.change(ruin.touched[at]!);
    for (let at = 0; at < recreate.touchedCount; at++) cost += this.change(recreate.touched[at]!);
    for (let at = 0; at < ruin.removedCount; at++) cost += leaveCost[ruin.removed[at]!]!;
    for (let at = 0; at < recreate.insertedCount; at++) cost -= leaveCost[recreate.inserted[at]!]!;
    return cost;
  }

  private change(v: number): number {
    if (this.mark[v] === this.round) return 0;
    this.mark[v] = this.round;
    this.changed[this.changedCount++] = v;
    return this.state.routeCost[v]! - this.routeCost[v]!;
  }

  /** Takes the changed routes over. */
  follow(cost: number): void {
    const { state } = this;
    const n = state.model.orderCount;
    for (let at = 0; at < this.changedCount; at++) {
      const v = this.changed[at]!;
      this.version[v] = state.version[v]!;
      this.routeCost[v] = state.routeCost[v]!;
      let node = n + v;
      this.next[node] = state.next[node]!;
      for (node = state.next[node]!; node < n; node = state.next[node]!) this.next[node] = state.next[node]!;
    }
    this.absentCount = state.absentCount;
    this.cost = cost;
  }

  /** Brings the changed routes of the state back to the snapshot. */
  restore(): void {
    for (let at = 0; at < this.changedCount; at++) this.empty(this.changed[at]!);
    for (let at = 0; at < this.changedCount; at++) this.refill(this.changed[at]!);
  }

  restoreAll(): void {
    const V = this.state.model.crewDayCount;
    for (let v = 0; v < V; v++) this.empty(v);
    for (let v = 0; v < V; v++) this.refill(v);
  }

  copy(other: Snapshot): void {
    this.next.set(other.next);
    this.version.set(other.version);
    this.routeCost.set(other.routeCost);
    this.cost = other.cost;
    this.absentCount = other.absentCount;
  }

  private empty(v: number): void {
    const { state } = this;
    const n = state.model.orderCount;
    for (let c = state.next[n + v]!; c < n; c = state.next[n + v]!) state.unlink(c);
  }

  private refill(v: number): void {
    const { state } = this;
    const n = state.model.orderCount;
    let after = n + v;
    for (let c = this.next[after]!; c < n; c = this.next[c]!) {
      state.link(c, after, v);
      after = c;
    }
    refresh(state, v);
    // The same stops as when this number was given: what the insertion cache knows of them still holds.
    state.version[v] = this.version[v]!;
  }
}

function totalCost(state: RouteState): number {
  let cost = 0;
  for (const routeCost of state.routeCost) cost += routeCost;
  for (let at = 0; at < state.absentCount; at++) cost += state.model.leaveCost[state.absent[at]!]!;
  return cost;
}
