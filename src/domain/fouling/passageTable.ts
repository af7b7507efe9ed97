import { HORIZON_DAYS } from './evidence.js';
import { freshRow, rowToFill } from './freshRow.js';
import { normalCdf, normalDensity } from './normal.js';
import type { FirstPassage } from './passage.js';
import { type ShapeParameters, seasonDays, YEAR_DAYS } from './shapeParameters.js';

/** Days ahead at which chances are computed; in between they run straight. */
export const AHEAD = aheadDays();

function aheadDays(): Float64Array {
  const days = [0];
  for (let day = 2; day < HORIZON_DAYS; day = Math.round(day + Math.max(2, 0.05 * day))) days.push(day);
  days.push(HORIZON_DAYS);
  return Float64Array.from(days);
}

/** Every so many days of `AHEAD`, its end and its first days among them: noise grows fastest at first. */
const everyNth = (n: number): Float64Array =>
  AHEAD.filter((_, d) => d <= FIRST_PLACES || d % n === 0 || d === AHEAD.length - 1);
const FIRST_PLACES = 8;

/** A line's chances are a mixture over many rates, smooth enough to be computed at every second day of `AHEAD`. */
export const NODES = everyNth(2);
/** After a change of regime hardly anything is known of the rate: still smoother. */
export const SPARSE = everyNth(4);

/** What every line grows by to some days ahead, seen from one day under one set of shared parameters. */
export interface DaysAhead {
  growthNoise: number;
  /** Days weighted with the season. */
  grown: Float64Array;
  timeVariance: Float64Array;
  /** How far noise alone may have been beyond the level in between: this over the rate, at most `reach`. */
  nearerTimesRate: Float64Array;
  reach: Float64Array;
  /** Chance that the regime has changed, unannounced and early enough to matter for the running cycle. */
  changed: Float64Array;
}

/** Part of the unannounced changes that come so early. */
const CHANGE_PART = 0.3;

/** By the array of days. */
interface Framed {
  asOfDay: number;
  byDays: Map<Float64Array, DaysAhead>;
}

const framed = new WeakMap<ShapeParameters, Framed>();

/** The last day asked is kept: a night asks one day for every line. */
export function daysAhead(parameters: ShapeParameters, asOfDay: number, ahead = AHEAD): DaysAhead {
  let held = framed.get(parameters);
  if (held?.asOfDay !== asOfDay) {
    held = { asOfDay, byDays: new Map() };
    framed.set(parameters, held);
  }
  const known = held.byDays.get(ahead);
  if (known) return known;
  const grown = ahead.map((days) => Math.max(0, seasonDays(parameters, asOfDay, asOfDay + days)));
  const timeVariance = ahead.map((days) => parameters.timeNoise * days);
  const made: DaysAhead = {
    growthNoise: parameters.growthNoise,
    grown,
    timeVariance,
    nearerTimesRate: timeVariance.map((variance, d) => (grown[d]! > 0 ? (0.5 * variance) / grown[d]! : 0)),
    reach: timeVariance.map((variance) => 0.8 * Math.sqrt(variance)),
    changed: ahead.map((days) => -Math.expm1((-CHANGE_PART * parameters.changesPerYear * days) / YEAR_DAYS)),
  };
  held.byDays.set(ahead, made);
  return made;
}

/** Rates that stand for a belief, and the level at each, straight with time: side by side, `count` of them. */
export interface StatePoints {
  count: number;
  weight: Float64Array;
  rate: Float64Array;
  level: Float64Array;
  variance: Float64Array;
  /** Standard deviation of the log rate, where the point stands for several rates. */
  rateSpread: Float64Array;
  /** How much higher the level is at a rate one such deviation higher. */
  levelSpread: Float64Array;
  /** Cell of rates to which the point belongs. */
  cell: Float64Array;
}

/** Room for so many points; whoever adds one writes all that it is. */
export function noPoints(most: number): StatePoints {
  return {
    count: 0,
    weight: rowToFill(most),
    rate: rowToFill(most),
    level: rowToFill(most),
    variance: rowToFill(most),
    rateSpread: rowToFill(most),
    levelSpread: rowToFill(most),
    cell: rowToFill(most),
  };
}

/** Chances by some days as they rise: nil before the place `from`, sure from the place `to`, `values` from one to the other. */
export interface Rise {
  from: number;
  to: number;
  values: Float64Array;
}

export const noRise = (): Rise => ({ from: 0, to: 0, values: new Float64Array(AHEAD.length) });

/**
 * The chance, by each of the days of `ahead`, that the level at point p has passed the limit: normal with the skewness
 * of bursts, and the limit drawn nearer because noise may have been past it in between. Where the rise of the point
 * before began in the same days is looked first.
 */
export function riseOf(
  rise: Rise,
  points: StatePoints,
  p: number,
  limitY: number,
  { growthNoise, grown, timeVariance, nearerTimesRate, reach }: DaysAhead,
): void {
  const rate = points.rate[p]!;
  const start = points.level[p]! - limitY;
  const startVariance = points.variance[p]!;
  const rateSpread = points.rateSpread[p]!;
  const levelSpread = points.levelSpread[p]!;
  const perRate = 1 / rate;
  const days = grown.length;
  const { values } = rise;
  let d = Math.min(rise.from, days - 1);
  for (let step = 0; ; ) {
    const growth = rate * grown[d]!;
    const over = start + growth + Math.min(perRate * nearerTimesRate[d]!, reach[d]!);
    const spread = levelSpread + rateSpread * growth;
    const variance = startVariance + growthNoise * growth + timeVariance[d]! + spread * spread;
    // Squares spare the root: nil while over / sd ≤ −LAST_Z.
    const nil = over < 0 && over * over >= LAST_Z * LAST_Z * variance;
    if (nil) {
      d++;
      if (step < 0 || d === days) break;
      step = 1;
    } else {
      if (step > 0 || d === 0) break;
      d--;
      step = -1;
    }
  }
  rise.from = d;
  for (; d < days; d++) {
    const growth = rate * grown[d]!;
    const over = start + growth + Math.min(perRate * nearerTimesRate[d]!, reach[d]!);
    const burst = growthNoise * growth;
    const spread = levelSpread + rateSpread * growth;
    const perSd = 1 / Math.sqrt(startVariance + burst + timeVariance[d]! + spread * spread);
    const place = (over * perSd + LAST_Z) * STEPS_PER_Z;
    if (place >= LAST_PLACE) break;
    const j = Math.max(0, place) | 0;
    const part = place - j;
    const k = 2 * j;
    const skewness = Math.min(1, 2 * growthNoise * burst * perSd * perSd * perSd);
    const chance =
      CHANCE_AND_BEND[k]! +
      part * (CHANCE_AND_BEND[k + 2]! - CHANCE_AND_BEND[k]!) +
      skewness * (CHANCE_AND_BEND[k + 1]! + part * (CHANCE_AND_BEND[k + 3]! - CHANCE_AND_BEND[k + 1]!));
    values[d] = Math.max(0, Math.min(1, chance));
  }
  rise.to = d;
}

/** Weighted chances by some days, being added up: as they rise, and the weights that are sure from a day on. */
export interface ChanceSum {
  rising: Float64Array;
  sure: Float64Array;
}

export const noChances = (days: number): ChanceSum => ({ rising: freshRow(days), sure: freshRow(days + 1) });

export function addRise({ rising, sure }: ChanceSum, { from, to, values }: Rise, weight: number): void {
  for (let d = from; d < to; d++) rising[d] = rising[d]! + weight * values[d]!;
  sure[to] = sure[to]! + weight;
}

/** The sum by each day. Written in place: nothing may be added any more. */
export function summed({ rising, sure }: ChanceSum): Float64Array {
  let weight = 0;
  for (let d = 0; d < rising.length; d++) {
    weight += sure[d]!;
    rising[d] = rising[d]! + weight;
  }
  return rising;
}

/**
 * Φ(z) and (z² − 1) φ(z) / 6 side by side, at even steps: off by less than 2e-6 in between. What is beyond counts as nil or
 * sure: off by less than 4e-6, and 6e-5 where bursts are as skewed as can be.
 */
const LAST_Z = 4.5;
const STEPS_PER_Z = 128;
const LAST_PLACE = 2 * LAST_Z * STEPS_PER_Z;
const CHANCE_AND_BEND = Float64Array.from({ length: 2 * (LAST_PLACE + 2) }, (_, k) => {
  const z = (k >> 1) / STEPS_PER_Z - LAST_Z;
  return k % 2 === 0 ? normalCdf(z) : ((z * z - 1) * normalDensity(z)) / 6;
});

/** A table over some days read at others, by the cubic through the four nearest. */
export function betweenDays(table: Float64Array, from: Float64Array, to: Float64Array): Float64Array {
  const { first, weights } = cubicsOf(from, to);
  const read = rowToFill(to.length);
  for (let d = 0; d < read.length; d++) {
    const i = first[d]!;
    read[d] =
      weights[4 * d]! * table[i]! +
      weights[4 * d + 1]! * table[i + 1]! +
      weights[4 * d + 2]! * table[i + 2]! +
      weights[4 * d + 3]! * table[i + 3]!;
  }
  return read;
}

interface Cubics {
  /** First of the four places that tell the chance by each day, and what each counts. */
  first: Uint16Array;
  weights: Float64Array;
}

const cubics = new WeakMap<Float64Array, WeakMap<Float64Array, Cubics>>();

function cubicsOf(from: Float64Array, to: Float64Array): Cubics {
  const ofDays = cubics.get(from) ?? new WeakMap<Float64Array, Cubics>();
  cubics.set(from, ofDays);
  const held = ofDays.get(to);
  if (held) return held;
  const first = Uint16Array.from(to, (day) =>
    Math.max(0, Math.min(from.length - 4, stepAbove(from, day) - 2)),
  );
  const weights = new Float64Array(4 * to.length);
  to.forEach((day, d) => {
    for (let a = 0; a < 4; a++) {
      let weight = 1;
      for (let b = 0; b < 4; b++) {
        const [own, other] = [from[first[d]! + a]!, from[first[d]! + b]!];
        if (b !== a) weight *= (day - other) / (own - other);
      }
      weights[4 * d + a] = weight;
    }
  });
  const made = { first, weights };
  ofDays.set(to, made);
  return made;
}

/** Sums of weighted chances as chances: over their total weight, at most 1, never falling. Written in place. */
export function asChances(table: Float64Array, totalWeight: number): Float64Array {
  let highest = 0;
  for (let d = 0; d < table.length; d++) {
    highest = Math.max(highest, Math.min(1, table[d]! / totalWeight));
    table[d] = highest;
  }
  return table;
}

/** Places of some days among those of `AHEAD`: between `right − 1` and `right`, `part` of the way. */
interface Places {
  right: Uint16Array;
  part: Float64Array;
}

const placed = new WeakMap<Float64Array, Places>();

/** Worked out once per array of days: the days of the cost rule are the same for every line. */
function placesOf(days: Float64Array): Places {
  const held = placed.get(days);
  if (held) return held;
  const right = Uint16Array.from(days, (day) => stepAbove(AHEAD, day));
  const part = days.map((day, i) => {
    const left = AHEAD[right[i]! - 1]!;
    return Math.max(0, Math.min(1, (day - left) / (AHEAD[right[i]!]! - left)));
  });
  const made = { right, part };
  placed.set(days, made);
  return made;
}

/** A table over `AHEAD` read at other days. */
export function readAt(table: Float64Array, days: Float64Array): Float64Array {
  const { right, part } = placesOf(days);
  const read = rowToFill(days.length);
  for (let i = 0; i < read.length; i++) {
    const before = table[right[i]! - 1]!;
    read[i] = before + part[i]! * (table[right[i]!]! - before);
  }
  return read;
}

/** A first passage whose chances at the days of `AHEAD` are worked out when first asked for. */
export abstract class TablePassage implements FirstPassage {
  readonly horizonDays = HORIZON_DAYS;
  private held: Float64Array | null = null;

  /** Chances by the days of `AHEAD`. */
  protected abstract tabulate(): Float64Array;

  private table(): Float64Array {
    this.held ??= this.tabulate();
    return this.held;
  }

  chancesBy(days: Float64Array): Float64Array {
    return readAt(this.table(), days);
  }

  chanceBy(days: number): number {
    const table = this.table();
    if (days <= 0) return table[0]!;
    if (days >= HORIZON_DAYS) return table[table.length - 1]!;
    const d = stepAbove(AHEAD, days);
    const part = (days - AHEAD[d - 1]!) / (AHEAD[d]! - AHEAD[d - 1]!);
    return table[d - 1]! + part * (table[d]! - table[d - 1]!);
  }

  quantile(p: number): number | null {
    const table = this.table();
    if (table[0]! >= p) return 0;
    if (table[table.length - 1]! < p) return null;
    const d = stepAbove(table, p);
    const part = (p - table[d - 1]!) / (table[d]! - table[d - 1]!);
    return AHEAD[d - 1]! + part * (AHEAD[d]! - AHEAD[d - 1]!);
  }
}

/** First place of a rising table with a value of at least `x`; 1 or more. */
function stepAbove(table: Float64Array, x: number): number {
  let low = 0;
  let high = table.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (table[middle]! < x) low = middle;
    else high = middle;
  }
  return high;
}
