import { earliestEnd, latestEndAfterBreaks, restBackward, restForward } from './breaks.js';
import type { Model } from './model.js';
import { overtimeCostAt } from './overtime.js';
import { RefillLabels } from './refillLabels.js';
import { lastOpen, NEVER, nextOpen } from './windows.js';

/** Steps of a tour at or above this are visits to refill site `step - SITE`. */
export const SITE = 0x2000_0000;

/** So many stops for water or waste still to be made are told apart when a label is too late. */
const MOST_TOLD = 3;
const FIRST_SIZE = 16;
/** Places for one more order that are looked at together, before the others. */
const GAPS_AT_ONCE = 3;

/** What a tour reads of the routes (see `RouteState`), and where it says which place it found. */
export interface ToldRoutes {
  readonly model: Model;
  readonly next: Int32Array;
  readonly routeOf: Int32Array;
  readonly length: Int32Array;
  readonly legCost: Int32Array;
  readonly stretchFrom: number;
  readonly stretchTo: number;
  foundAfter: number;
}

/**
 * The refill and disposal stops that make one crew-day's route cheapest in its sequence, and the cheapest place on it
 * for one more order with the stops it then needs.
 *
 * Exact for the sequence where a detour never saves driving, in one pass over it: from each label of an order (one way to have
 * served it) the next is reached straight, by one site or by two. Few labels remain: those that others beat are
 * dropped, and those that come too late for the stops they still need. One more order starts from the labels of
 * the route without it.
 */
export class RefillTour {
  private readonly state: ToldRoutes;
  private readonly model: Model;
  private readonly v: number;
  private readonly layers: number;
  private readonly mostWater: number;
  private readonly mostWaste: number;
  private readonly quickestSite: number;

  private count = 0;
  private orders = new Int32Array(FIRST_SIZE);
  /** Litres that the orders from the same index on use and take on board. */
  private waterAhead = new Float64Array(FIRST_SIZE);
  private wasteAhead = new Float64Array(FIRST_SIZE);
  /** Latest arrival at order k (home at `count`) with r stops still to be made after it and b breaks taken, see `row`. */
  private latest: Int32Array;
  private told = 0;

  private readonly route: RefillLabels;
  /** Where the labels of each order begin: of the start at 0, of order k at k + 1. */
  private frontOf = new Int32Array(FIRST_SIZE);
  /** Of the route with one more order; its labels keep in `before` the index where that order was put. */
  private readonly more: RefillLabels;
  /** Places for one more order, by what it adds there, and those now tried. */
  private gapOf = new Int32Array(FIRST_SIZE);
  private gapCost = new Float64Array(FIRST_SIZE);
  private isTried = new Uint8Array(FIRST_SIZE);
  private readonly leftOne: Int32Array;
  private readonly leftTwo: Int32Array;

  /** The cheapest way home found. */
  private found = -1;
  private foundCost = Infinity;
  private foundOvertime = 0;
  private foundEnd = 0;

  /** Driving, overtime, crew use and place costs of the route; `Infinity`: it cannot be driven. */
  cost = Infinity;
  overtimeCost = 0;
  endSeconds = 0;
  private last = -1;

  /** @param more Scratch that the tours of a state share. */
  constructor(state: ToldRoutes, v: number, more: RefillLabels) {
    const { model } = state;
    this.state = state;
    this.model = model;
    this.v = v;
    this.layers = model.maxBreaks + 1;
    this.mostWater = largest(model.waterLitres);
    this.mostWaste = largest(model.wasteLitres);
    this.quickestSite = Math.min(...model.refillSites.map(({ seconds }) => seconds));
    this.latest = new Int32Array(FIRST_SIZE * this.layers * (MOST_TOLD + 1));
    this.route = new RefillLabels(this.layers);
    this.more = more;
    this.leftOne = new Int32Array(this.layers);
    this.leftTwo = new Int32Array(this.layers);
  }

  /** Looks at the route as it is now. */
  evaluate(): void {
    const { route } = this;
    this.cost = Infinity;
    this.listOrders();
    this.boundLatest();
    route.clear();
    this.offerStart();
    this.frontOf[0] = 0;
    for (let k = 0; k < this.count; k++) {
      const from = this.frontOf[k]!;
      const to = route.count;
      this.frontOf[k + 1] = to;
      route.beginFront(this.waterAhead[k + 1]! + this.mostWater, this.wasteAhead[k + 1]! + this.mostWaste);
      this.extend(route, from, to, this.nodeBefore(k), this.orders[k]!, k + 1, route);
      if (route.count === to) return;
    }
    this.frontOf[this.count + 1] = route.count;
    this.forget();
    this.goHome(route, this.frontOf[this.count]!, route.count, this.nodeBefore(this.count));
    this.cost = this.foundCost;
    this.overtimeCost = this.foundOvertime;
    this.endSeconds = this.foundEnd;
    this.last = this.found;
  }

  /**
   * A place for order c behind `state.stretchFrom` and before `state.stretchTo`: the cheapest of those few that add the
   * least driving without refills, and where none of them can be driven, of the others. It is in `state.foundAfter`.
   *
   * @returns Cost of the whole route with it; `Infinity` when it cannot be driven.
   */
  evaluateWith(c: number): number {
    const { state, more } = this;
    const gaps = this.listGaps(c);
    this.forget();
    for (let from = 0; from < gaps && this.found === -1; from += GAPS_AT_ONCE)
      this.tryGaps(c, from, Math.min(gaps, from + GAPS_AT_ONCE));
    if (this.found !== -1) state.foundAfter = this.nodeBefore(more.before[this.found]!);
    return this.foundCost;
  }

  /** Lists where order c may be in time, by what it adds without refills; how many places. */
  private listGaps(c: number): number {
    const { state, gapOf, gapCost, model, v } = this;
    const { locationOf, size, arcCost } = model;
    const here = locationOf[c]!;
    let open = false;
    let gaps = 0;
    for (let k = 0; k <= this.count; k++) {
      const before = this.nodeBefore(k);
      if (before === state.stretchFrom) open = true;
      if (before === state.stretchTo) open = false;
      this.isTried[k] = 0;
      if (!open || !this.mayFitIn(c, k)) continue;
      const onward = k === this.count ? model.orderCount + model.crewDayCount + v : this.orders[k]!;
      const cost =
        arcCost[locationOf[before]! * size + here]! +
        arcCost[here * size + locationOf[onward]!]! -
        state.legCost[before]!;
      let at = gaps++;
      for (; at > 0 && gapCost[at - 1]! > cost; at--) {
        gapCost[at] = gapCost[at - 1]!;
        gapOf[at] = gapOf[at - 1]!;
      }
      gapCost[at] = cost;
      gapOf[at] = k;
    }
    return gaps;
  }

  private mayFitIn(c: number, k: number): boolean {
    const before = this.nodeBefore(k);
    for (let label = this.frontOf[k]!; label < this.frontOf[k + 1]!; label++)
      if (this.mayFit(label, before, c, k)) return true;
    return false;
  }

  /** Drives the route with order c in one of some gaps: from there on, as every gap before is as it was. */
  private tryGaps(c: number, fromGap: number, toGap: number): void {
    const { route, more } = this;
    more.clear();
    for (let at = fromGap; at < toGap; at++) this.isTried[this.gapOf[at]!] = 1;
    let withFrom = 0;
    let withTo = 0;
    for (let k = 0; k <= this.count; k++) {
      const before = this.nodeBefore(k);
      const from = more.count;
      if (this.isTried[k] === 1) {
        this.isTried[k] = 0;
        more.beginFront(this.waterAhead[k]!, this.wasteAhead[k]!);
        for (let label = this.frontOf[k]!; label < this.frontOf[k + 1]!; label++)
          if (this.mayFit(label, before, c, k)) this.extend(route, label, label + 1, before, c, k, more);
      }
      const to = more.count;
      if (k === this.count) {
        this.goHome(more, from, to, c);
        this.goHome(more, withFrom, withTo, before);
        return;
      }
      if (from === to && withFrom === withTo) continue;
      more.beginFront(this.waterAhead[k + 1]!, this.wasteAhead[k + 1]!);
      this.extend(more, from, to, c, this.orders[k]!, k + 1, more);
      this.extend(more, withFrom, withTo, before, this.orders[k]!, k + 1, more);
      withFrom = to;
      withTo = more.count;
    }
  }

  /** Orders and sites in sequence, of a route that can be driven. */
  steps(): number[] {
    const { route } = this;
    const steps: number[] = [];
    let label = this.last;
    for (let k = this.count - 1; k >= 0; k--) {
      steps.push(this.orders[k]!);
      if (route.second[label] !== -1) steps.push(SITE + route.second[label]!);
      if (route.first[label] !== -1) steps.push(SITE + route.first[label]!);
      label = route.before[label]!;
    }
    return steps.reverse();
  }

  private nodeBefore(k: number): number {
    return k === 0 ? this.model.orderCount + this.v : this.orders[k - 1]!;
  }

  private listOrders(): void {
    const { model, state, v } = this;
    const { next } = state;
    this.count = 0;
    if (state.length[v]! + 2 > this.orders.length) this.grow(2 * (state.length[v]! + 2));
    for (let j = next[model.orderCount + v]!; j < model.orderCount; j = next[j]!)
      this.orders[this.count++] = j;
    this.waterAhead[this.count] = 0;
    this.wasteAhead[this.count] = 0;
    for (let k = this.count - 1; k >= 0; k--) {
      this.waterAhead[k] = this.waterAhead[k + 1]! + model.waterLitres[this.orders[k]!]!;
      this.wasteAhead[k] = this.wasteAhead[k + 1]! + model.wasteLitres[this.orders[k]!]!;
    }
  }

  private grow(size: number): void {
    this.orders = new Int32Array(size);
    this.waterAhead = new Float64Array(size);
    this.wasteAhead = new Float64Array(size);
    this.frontOf = new Int32Array(size);
    this.gapOf = new Int32Array(size);
    this.gapCost = new Float64Array(size);
    this.isTried = new Uint8Array(size);
    this.latest = new Int32Array(size * this.layers * (MOST_TOLD + 1));
  }

  /** Where the times of r stops to come after order k stand in `latest`, by breaks taken. */
  private row(r: number, k: number): number {
    return (r * this.orders.length + k) * this.layers;
  }

  /** Fills `latest` from home back: what a stop costs in time is what the quickest way round by any site takes. */
  private boundLatest(): void {
    const { model, latest, v, layers } = this;
    const breaks = model.breakCount[v]!;
    const { orderCount: n, crewDayCount: V, locationOf, size, arcSeconds } = model;
    this.told = this.stopsToMake(
      0,
      0,
      this.waterAhead[0]! + this.mostWater,
      this.wasteAhead[0]! + this.mostWaste,
    );
    for (let r = 0; r <= this.told; r++) {
      for (let b = 0; b <= breaks; b++)
        latest[this.row(r, this.count) + b] = r === 0 ? latestEndAfterBreaks(model, v, b) : -1;
      let there = locationOf[n + V + v]!;
      for (let k = this.count - 1; k >= 0; k--) {
        const c = this.orders[k]!;
        const here = locationOf[c]!;
        const own = this.row(r, k);
        for (let b = 0; b <= breaks; b++)
          latest[own + b] = latest[own + layers + b]! - arcSeconds[here * size + there]!;
        if (r > 0) this.boundBySites(own, this.row(r - 1, k + 1), here, there);
        const service = model.serviceSeconds[c * V + v]!;
        restBackward(model, v, latest, own, 1, service);
        for (let b = 0; b <= breaks; b++) {
          const bound = latest[own + b]! - service;
          latest[own + b] =
            bound < 0 ? -1 : lastOpen(model.windows, c * model.dayCount + model.dayOf[v]!, bound);
        }
        restBackward(model, v, latest, own, 1);
        there = here;
      }
    }
  }

  /** Raises the latest times to leave `here`, at `own`, to those of a stop on the way to what must be reached by `next`. */
  private boundBySites(own: number, next: number, here: number, there: number): void {
    const { model, latest, v, leftOne } = this;
    const { size, arcSeconds } = model;
    const breaks = model.breakCount[v]!;
    for (const { location, seconds } of model.refillSites) {
      for (let b = 0; b <= breaks; b++) leftOne[b] = latest[next + b]! - arcSeconds[location * size + there]!;
      restBackward(model, v, leftOne, 0, 1);
      for (let b = 0; b <= breaks; b++) leftOne[b] = leftOne[b]! - seconds;
      restBackward(model, v, leftOne, 0, 1);
      for (let b = 0; b <= breaks; b++) {
        const by = leftOne[b]! - arcSeconds[here * size + location]!;
        if (by > latest[own + b]!) latest[own + b] = by;
      }
    }
  }

  /** Stops at least to be made with so much on board and so much to come. */
  private stopsToMake(water: number, room: number, waterToCome: number, wasteToCome: number): number {
    const { fullWater, fullRoom } = this.model;
    const dry = waterToCome - water;
    const full = wasteToCome - room;
    const refills = dry > 0 ? Math.ceil(dry / fullWater[this.v]!) : 0;
    const disposals = full > 0 ? Math.ceil(full / fullRoom[this.v]!) : 0;
    return Math.min(MOST_TOLD, Math.max(refills, disposals));
  }

  private offerStart(): void {
    const { model, v, route } = this;
    const { offered } = route;
    for (let b = 0; b < this.layers; b++) offered[b] = NEVER;
    offered[0] = model.shiftStart[v]!;
    restForward(model, v, offered, 0, 1);
    route.beginFront(this.waterAhead[0]! + this.mostWater, this.wasteAhead[0]! + this.mostWaste);
    const use = 0 - Math.min(0, model.emptyLeg[v]!);
    route.offer(use, model.startWater[v]!, model.startRoom[v]!, -1, -1, -1);
  }

  /** Whether order c, put behind a label of the route and before index k, can be in time for what follows. */
  private mayFit(label: number, before: number, c: number, k: number): boolean {
    const { model, route, v, layers, latest } = this;
    const { locationOf, size, arcSeconds } = model;
    const breaks = model.breakCount[v]!;
    let earliest = route.times[label * layers]!;
    for (let b = 1; b <= breaks; b++) earliest = Math.min(earliest, route.times[label * layers + b]!);
    const here = locationOf[c]!;
    const pair = c * model.dayCount + model.dayOf[v]!;
    const begin = Math.max(earliest + arcSeconds[locationOf[before]! * size + here]!, model.opens[pair]!);
    if (begin > model.closes[pair]!) return false;
    const onward = k === this.count ? model.orderCount + model.crewDayCount + v : this.orders[k]!;
    const arrival =
      begin +
      model.serviceSeconds[c * model.crewDayCount + v]! +
      arcSeconds[here * size + locationOf[onward]!]!;
    const stops = this.stopsToMake(
      route.water[label]!,
      route.room[label]!,
      this.waterAhead[k]! + model.waterLitres[c]!,
      this.wasteAhead[k]! + model.wasteLitres[c]!,
    );
    if (arrival <= latest[this.row(Math.min(stops, this.told), k) + breaks]!) return true;
    // One or two stops may be made around the order itself.
    return (
      stops > 0 &&
      arrival + this.quickestSite <=
        latest[this.row(Math.min(Math.max(0, stops - 2), this.told), k) + breaks]!
    );
  }

  /** All ways from labels at one node to order c, behind which index `next` follows: straight, by one site, by two. */
  private extend(
    from: RefillLabels,
    fromLabel: number,
    toLabel: number,
    node: number,
    c: number,
    next: number,
    into: RefillLabels,
  ): void {
    const { model, leftOne, leftTwo, v } = this;
    const { refillSites, locationOf, fullWater, fullRoom } = model;
    const here = locationOf[node]!;
    const spare = into === this.route ? 1 : 0;
    const waterToCome = Math.min(
      fullWater[v]!,
      this.waterAhead[next]! + model.waterLitres[c]! + spare * this.mostWater,
    );
    const roomToCome = Math.min(
      fullRoom[v]!,
      this.wasteAhead[next]! + model.wasteLitres[c]! + spare * this.mostWaste,
    );
    for (let label = fromLabel; label < toLabel; label++) {
      const cost = from.cost[label]!;
      const water = from.water[label]!;
      const room = from.room[label]!;
      const at = label * this.layers;
      const before = into === this.route ? label : from === this.route ? next : from.before[label]!;
      this.serve(into, c, next, here, from.times, at, cost, water, room, before, -1, -1);
      if (water >= waterToCome && room >= roomToCome) continue;
      for (let s = 0; s < refillSites.length; s++) {
        const one = refillSites[s]!;
        if (!(one.givesWater && water < waterToCome) && !(one.takesWaste && room < roomToCome)) continue;
        const costOne = cost + this.visit(here, s, from.times, at, leftOne);
        const waterOne = one.givesWater ? fullWater[v]! : water;
        const roomOne = one.takesWaste ? fullRoom[v]! : room;
        this.serve(into, c, next, one.location, leftOne, 0, costOne, waterOne, roomOne, before, s, -1);
        if (waterOne >= waterToCome && roomOne >= roomToCome) continue;
        for (let t = 0; t < refillSites.length; t++) {
          const two = refillSites[t]!;
          if (!(two.givesWater && waterOne < waterToCome) && !(two.takesWaste && roomOne < roomToCome))
            continue;
          const costTwo = costOne + this.visit(one.location, t, leftOne, 0, leftTwo);
          const waterTwo = two.givesWater ? fullWater[v]! : waterOne;
          const roomTwo = two.takesWaste ? fullRoom[v]! : roomOne;
          this.serve(into, c, next, two.location, leftTwo, 0, costTwo, waterTwo, roomTwo, before, s, t);
        }
      }
    }
  }

  /** Drives to site s and fills or empties there. @returns Cost of the drive. */
  private visit(here: number, s: number, from: Int32Array, at: number, to: Int32Array): number {
    const { model, v } = this;
    const { location, seconds } = model.refillSites[s]!;
    const arc = here * model.size + location;
    const breaks = model.breakCount[v]!;
    const leg = model.arcSeconds[arc]!;
    for (let b = 0; b <= breaks; b++) to[b] = Math.min(NEVER, from[at + b]! + leg);
    if (breaks > 0) restForward(model, v, to, 0, 1);
    for (let b = 0; b <= breaks; b++) to[b] = Math.min(NEVER, to[b]! + seconds);
    if (breaks > 0) restForward(model, v, to, 0, 1);
    return model.arcCost[arc]!;
  }

  /** Drives to order c and serves it: a new label, unless that is too late or leaves the tanks dry or full. */
  private serve(
    into: RefillLabels,
    c: number,
    next: number,
    here: number,
    from: Int32Array,
    at: number,
    costSoFar: number,
    waterBefore: number,
    roomBefore: number,
    before: number,
    first: number,
    second: number,
  ): void {
    const { model, v, latest } = this;
    const { offered } = into;
    const water = waterBefore - model.waterLitres[c]!;
    const room = roomBefore - model.wasteLitres[c]!;
    if (water < 0 || room < 0) return;
    const cell = c * model.crewDayCount + v;
    const arc = here * model.size + model.locationOf[c]!;
    const leg = model.arcSeconds[arc]!;
    const breaks = model.breakCount[v]!;
    for (let b = 0; b <= breaks; b++) offered[b] = Math.min(NEVER, from[at + b]! + leg);
    if (breaks > 0) restForward(model, v, offered, 0, 1);
    const isPlaced = this.state.routeOf[c] === v;
    const stops = this.stopsToMake(water, room, this.waterAhead[next]!, this.wasteAhead[next]!);
    const bound = this.row(Math.min(stops, this.told), next - 1);
    const pair = c * model.dayCount + model.dayOf[v]!;
    const service = model.serviceSeconds[cell]!;
    let isInTime = false;
    for (let b = 0; b <= breaks; b++) {
      const arrival = offered[b]!;
      const begin = nextOpen(model.windows, pair, arrival);
      if (begin < NEVER && (!isPlaced || arrival <= latest[bound + b]!)) isInTime = true;
      offered[b] = Math.min(NEVER, begin + service);
    }
    if (!isInTime) return;
    if (breaks > 0) restForward(model, v, offered, 0, 1, service);
    into.offer(costSoFar + model.arcCost[arc]! + model.placeCost[cell]!, water, room, before, first, second);
  }

  private forget(): void {
    this.foundCost = Infinity;
    this.found = -1;
  }

  /** Home from the labels at one node: the cheapest, of equals the one that is there first. */
  private goHome(labels: RefillLabels, fromLabel: number, toLabel: number, node: number): void {
    const { model, layers, leftOne, v } = this;
    const home = model.locationOf[model.orderCount + model.crewDayCount + v]!;
    const arc = model.locationOf[node]! * model.size + home;
    for (let label = fromLabel; label < toLabel; label++) {
      for (let b = 0; b < layers; b++)
        leftOne[b] = Math.min(NEVER, labels.times[label * layers + b]! + model.arcSeconds[arc]!);
      const end = earliestEnd(model, v, leftOne, 0, 1);
      if (end === NEVER) continue;
      const overtime = overtimeCostAt(model, v, end);
      const cost = labels.cost[label]! + model.arcCost[arc]! + overtime;
      if (cost > this.foundCost || (cost === this.foundCost && end >= this.foundEnd)) continue;
      this.foundCost = cost;
      this.foundOvertime = overtime;
      this.foundEnd = end;
      this.found = label;
    }
  }
}

const largest = (numbers: Float64Array): number => {
  let most = 0;
  for (const number of numbers) if (number > most) most = number;
  return most;
};
