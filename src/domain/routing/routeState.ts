import type { Model } from './model.js';
import { RefillLabels } from './refillLabels.js';
import { RefillTour } from './refillTour.js';
import { SharedKitUse } from './sharedKitUse.js';

/**
 * Routes as linked lists of nodes, with what makes pricing an insertion a matter of constant time: per node
 * and number of breaks taken, the earliest time it can be left and the latest time it may be reached.
 *
 * An example: one crew, N = 5 nodes, shift from 0, lunch of 30 between 100 and 150, order 2 reached at 90 for work of
 * 40. Layer 0 of `ready` says 130 (no break taken), at `0 * 5 + 2`. Layer 1, at `1 * 5 + 2`, says 160: lunch in the
 * midst of the work, or right behind it. What no break can reach says
 * `NEVER`. `latest` reads the same way backward: the latest arrival with so many breaks behind the crew.
 */
export class RouteState {
  readonly model: Model;
  readonly next: Int32Array;
  readonly prev: Int32Array;
  /** Crew-day of each order, -1 when left out. */
  readonly routeOf: Int32Array;
  /** Layer b at `b * nodeCount + node`. */
  readonly ready: Int32Array;
  readonly latest: Int32Array;
  /** Cost of the leg that leaves a node. */
  readonly legCost: Int32Array;

  readonly length: Int32Array;
  readonly routeCost: Float64Array;
  readonly overtimeCost: Float64Array;
  readonly endSeconds: Int32Array;
  readonly water: Float64Array;
  readonly waste: Float64Array;
  /** 1 when the route needs refill or disposal stops: its node times are then those without them. */
  readonly refilled: Uint8Array;
  /** A number that no other content of any route has ever had. */
  readonly version: Int32Array;
  lastVersion = 0;
  readonly sharedKit: SharedKitUse;

  /** Refill stops of the routes that need any, and whether each knows the route as it is now. */
  private readonly tours: (RefillTour | undefined)[] = [];
  private readonly tourFresh: Uint8Array;
  private readonly tourScratch: RefillLabels;

  /** Scratch for pricing: two rows of times by breaks taken. */
  readonly layers: Int32Array;
  readonly ahead: Int32Array;

  /** Where the last insertion search found its best place. */
  foundAfter = -1;
  /** The stretch of a route found by `findStretch`. */
  stretchFrom = -1;
  stretchTo = -1;

  /** Orders left out, in no particular order. */
  readonly absent: Int32Array;
  absentCount = 0;
  private readonly absentAt: Int32Array;

  /** Routes worth trying: those in use, and one empty one of each class. */
  readonly candidates: Int32Array;
  candidateCount = 0;
  /** The empty ones among them. */
  readonly emptyCandidates: Int32Array;
  emptyCandidateCount = 0;
  private candidatesStale = true;
  private readonly classSeen: Int32Array;
  private candidateRound = 0;
  usedRoutes = 0;

  constructor(model: Model) {
    const { orderCount: n, crewDayCount: V, nodeCount: N } = model;
    const layers = model.maxBreaks + 1;
    this.model = model;
    this.next = new Int32Array(N);
    this.prev = new Int32Array(N);
    this.routeOf = new Int32Array(n).fill(-1);
    this.ready = new Int32Array(N * layers);
    this.latest = new Int32Array(N * layers);
    this.legCost = new Int32Array(N);
    this.length = new Int32Array(V);
    this.routeCost = new Float64Array(V);
    this.overtimeCost = new Float64Array(V);
    this.endSeconds = new Int32Array(V);
    this.water = new Float64Array(V);
    this.waste = new Float64Array(V);
    this.refilled = new Uint8Array(V);
    this.version = new Int32Array(V);
    this.sharedKit = new SharedKitUse(model);
    this.tourFresh = new Uint8Array(V);
    this.tourScratch = new RefillLabels(layers);
    this.layers = new Int32Array(layers);
    this.ahead = new Int32Array(layers);
    this.absent = new Int32Array(n);
    this.absentAt = new Int32Array(n);
    this.candidates = new Int32Array(V);
    this.emptyCandidates = new Int32Array(V);
    this.classSeen = new Int32Array(V);
    for (let v = 0; v < V; v++) {
      this.next[n + v] = n + V + v;
      this.prev[n + V + v] = n + v;
    }
    for (let c = 0; c < n; c++) this.addAbsent(c);
  }

  /** The refill stops of route v, whose times without them must be fresh. */
  tourOf(v: number): RefillTour {
    const tour = this.tours[v] ?? new RefillTour(this, v, this.tourScratch);
    this.tours[v] = tour;
    if (this.tourFresh[v] === 0) {
      tour.evaluate();
      this.tourFresh[v] = 1;
    }
    return tour;
  }

  /** A number for a new content of route v. */
  renew(v: number): void {
    this.version[v] = ++this.lastVersion;
    this.tourFresh[v] = 0;
  }

  /** Puts order c behind `after` on route v; the route's times are stale until it is refreshed. */
  link(c: number, after: number, v: number): void {
    const { model } = this;
    const before = this.next[after]!;
    this.next[after] = c;
    this.prev[c] = after;
    this.next[c] = before;
    this.prev[before] = c;
    this.routeOf[c] = v;
    this.water[v] = this.water[v]! + model.waterLitres[c]!;
    this.waste[v] = this.waste[v]! + model.wasteLitres[c]!;
    if (this.length[v] === 0) {
      this.candidatesStale = true;
      this.usedRoutes++;
    }
    this.length[v] = this.length[v]! + 1;
    this.dropAbsent(c);
    if (model.linked[c] === 1) this.sharedKit.take(c, v);
  }

  unlink(c: number): void {
    const { model } = this;
    const v = this.routeOf[c]!;
    const after = this.prev[c]!;
    const before = this.next[c]!;
    this.next[after] = before;
    this.prev[before] = after;
    this.routeOf[c] = -1;
    this.water[v] = this.water[v]! - model.waterLitres[c]!;
    this.waste[v] = this.waste[v]! - model.wasteLitres[c]!;
    this.length[v] = this.length[v]! - 1;
    if (this.length[v] === 0) {
      this.candidatesStale = true;
      this.usedRoutes--;
    }
    this.addAbsent(c);
    if (model.linked[c] === 1) this.sharedKit.giveBack(c, v);
  }

  refreshCandidates(): void {
    if (!this.candidatesStale) return;
    this.candidatesStale = false;
    this.candidateRound++;
    const { crewDayClass, crewDayCount } = this.model;
    let count = 0;
    let empty = 0;
    for (let v = 0; v < crewDayCount; v++) {
      if (this.length[v] === 0) {
        const kind = crewDayClass[v]!;
        if (this.classSeen[kind] === this.candidateRound) continue;
        this.classSeen[kind] = this.candidateRound;
        this.emptyCandidates[empty++] = v;
      }
      this.candidates[count++] = v;
    }
    this.candidateCount = count;
    this.emptyCandidateCount = empty;
  }

  private addAbsent(c: number): void {
    this.absentAt[c] = this.absentCount;
    this.absent[this.absentCount++] = c;
  }

  private dropAbsent(c: number): void {
    const at = this.absentAt[c]!;
    const last = this.absent[--this.absentCount]!;
    this.absent[at] = last;
    this.absentAt[last] = at;
  }
}
