import { earliestEnd, restForward } from './breaks.js';
import type { Model } from './model.js';
import { overtimeCostAt } from './overtime.js';
import { NEVER, nextOpen } from './windows.js';

/** Steps of a tour at or above this are visits to refill site `step - SITE`. */
export const SITE = 0x2000_0000;

/**
 * One crew's day written out, with the refill and disposal stops it needs. Before the tank runs dry (or the
 * waste tank full) the stop goes into the gap since the last one where its detour is cheapest.
 */
export class RefillTour {
  private readonly model: Model;
  private readonly orders: Int32Array;
  private count = 0;
  /** Up to two sites visited before the order at the same index; -1 for none. */
  private readonly firstSite: Int32Array;
  private readonly secondSite: Int32Array;
  private readonly times: Int32Array;

  /** Orders and sites in sequence, after `evaluate` answered true. */
  readonly steps: Int32Array;
  stepCount = 0;
  /** Driving, overtime, crew use and place costs. */
  cost = 0;
  overtimeCost = 0;
  endSeconds = 0;

  constructor(model: Model) {
    this.model = model;
    const n = model.orderCount + 1;
    this.orders = new Int32Array(n);
    this.firstSite = new Int32Array(n);
    this.secondSite = new Int32Array(n);
    this.steps = new Int32Array(3 * n);
    this.times = new Int32Array(model.maxBreaks + 1);
  }

  clear(): void {
    this.count = 0;
  }

  add(order: number): void {
    this.orders[this.count++] = order;
  }

  /** @returns Whether crew-day v can drive the orders added, in their sequence. */
  evaluate(v: number): boolean {
    return this.placeRefills(v) && this.drive(v);
  }

  private placeRefills(v: number): boolean {
    const { model, orders, count } = this;
    this.firstSite.fill(-1, 0, count);
    this.secondSite.fill(-1, 0, count);
    let water = model.startWater[v]!;
    let room = model.startRoom[v]!;
    let waterGap = 0;
    let wasteGap = 0;
    for (let k = 0; k < count; k++) {
      const c = orders[k]!;
      if (model.waterLitres[c]! > water) {
        const gap = this.cheapestGap(v, waterGap, k, true);
        if (gap < 0) return false;
        water = model.fullWater[v]! - this.sum(model.waterLitres, gap, k);
        waterGap = gap + 1;
        if (this.siteTakesWaste(gap)) {
          room = model.fullRoom[v]! - this.sum(model.wasteLitres, gap, k);
          wasteGap = gap + 1;
        }
      }
      if (model.wasteLitres[c]! > room) {
        const gap = this.cheapestGap(v, wasteGap, k, false);
        if (gap < 0) return false;
        room = model.fullRoom[v]! - this.sum(model.wasteLitres, gap, k);
        wasteGap = gap + 1;
      }
      if (model.waterLitres[c]! > water || model.wasteLitres[c]! > room) return false;
      water -= model.waterLitres[c]!;
      room -= model.wasteLitres[c]!;
    }
    return true;
  }

  /** Puts a site of the kind into the cheapest gap from `from` to before order `upTo`; -1 when there is none. */
  private cheapestGap(v: number, from: number, upTo: number, water: boolean): number {
    const { model } = this;
    const { arcCost, size, locationOf, refillSites } = model;
    let best = Infinity;
    let bestGap = -1;
    let bestSite = -1;
    for (let gap = upTo; gap >= from; gap--) {
      const litres = this.sum(water ? model.waterLitres : model.wasteLitres, gap, upTo + 1);
      if (litres > (water ? model.fullWater[v]! : model.fullRoom[v]!)) break;
      if (this.secondSite[gap] !== -1) continue;
      const before = this.locationBefore(v, gap);
      const after = locationOf[this.orders[gap]!]!;
      for (let s = 0; s < refillSites.length; s++) {
        const site = refillSites[s]!;
        if (!(water ? site.givesWater : site.takesWaste)) continue;
        const there = site.location;
        const detour =
          arcCost[before * size + there]! + arcCost[there * size + after]! - arcCost[before * size + after]!;
        if (detour < best) {
          best = detour;
          bestGap = gap;
          bestSite = s;
        }
      }
    }
    if (bestGap >= 0) {
      if (this.firstSite[bestGap] === -1) this.firstSite[bestGap] = bestSite;
      else this.secondSite[bestGap] = bestSite;
    }
    return bestGap;
  }

  private siteTakesWaste(gap: number): boolean {
    const site = this.secondSite[gap] !== -1 ? this.secondSite[gap]! : this.firstSite[gap]!;
    return this.model.refillSites[site]!.takesWaste;
  }

  private locationBefore(v: number, gap: number): number {
    const { model } = this;
    if (this.firstSite[gap] !== -1) return model.refillSites[this.firstSite[gap]!]!.location;
    return model.locationOf[gap === 0 ? model.orderCount + v : this.orders[gap - 1]!]!;
  }

  private sum(litres: Float64Array, from: number, to: number): number {
    let total = 0;
    for (let k = from; k < to; k++) total += litres[this.orders[k]!]!;
    return total;
  }

  private drive(v: number): boolean {
    const { model, times } = this;
    const { size, arcCost, arcSeconds, locationOf } = model;
    const layers = model.breakCount[v]! + 1;
    times.fill(NEVER);
    times[0] = model.shiftStart[v]!;
    restForward(model, v, times, 0, 1);
    this.listSteps();
    let here = locationOf[model.orderCount + v]!;
    this.cost = 0 - Math.min(0, model.emptyLeg[v]!);
    for (let k = 0; k < this.stepCount; k++) {
      const step = this.steps[k]!;
      const there = step >= SITE ? model.refillSites[step - SITE]!.location : locationOf[step]!;
      const arc = here * size + there;
      this.cost += arcCost[arc]!;
      for (let b = 0; b < layers; b++) times[b] = Math.min(NEVER, times[b]! + arcSeconds[arc]!);
      restForward(model, v, times, 0, 1);
      if (!this.serve(v, step, layers)) return false;
      restForward(
        model,
        v,
        times,
        0,
        1,
        step >= SITE ? 0 : model.serviceSeconds[step * model.crewDayCount + v]!,
      );
      here = there;
    }
    const home = here * size + locationOf[model.orderCount + model.crewDayCount + v]!;
    for (let b = 0; b < layers; b++) times[b] = Math.min(NEVER, times[b]! + arcSeconds[home]!);
    this.endSeconds = earliestEnd(model, v, times, 0, 1);
    if (this.endSeconds === NEVER) return false;
    this.overtimeCost = overtimeCostAt(model, v, this.endSeconds);
    this.cost += arcCost[home]! + this.overtimeCost;
    return true;
  }

  private serve(v: number, step: number, layers: number): boolean {
    const { model, times } = this;
    if (step >= SITE) {
      const { seconds } = model.refillSites[step - SITE]!;
      for (let b = 0; b < layers; b++) times[b] = Math.min(NEVER, times[b]! + seconds);
      return true;
    }
    const pair = step * model.dayCount + model.dayOf[v]!;
    const service = model.serviceSeconds[step * model.crewDayCount + v]!;
    let reachable = false;
    for (let b = 0; b < layers; b++) {
      const begin = nextOpen(model.windows, pair, times[b]!);
      if (begin < NEVER) reachable = true;
      times[b] = Math.min(NEVER, begin + service);
    }
    this.cost += model.placeCost[step * model.crewDayCount + v]!;
    return reachable;
  }

  private listSteps(): void {
    let count = 0;
    for (let k = 0; k < this.count; k++) {
      if (this.firstSite[k] !== -1) this.steps[count++] = SITE + this.firstSite[k]!;
      if (this.secondSite[k] !== -1) this.steps[count++] = SITE + this.secondSite[k]!;
      this.steps[count++] = this.orders[k]!;
    }
    this.stepCount = count;
  }
}
