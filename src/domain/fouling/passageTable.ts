import { HORIZON_DAYS } from './evidence.js';
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

/** What every line grows by to the days of `AHEAD`, seen from one day under one set of shared parameters. */
export interface DaysAhead {
  asOfDay: number;
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

const framed = new WeakMap<ShapeParameters, DaysAhead>();

/** The last day asked is kept: a night asks one day for every line. */
export function daysAhead(parameters: ShapeParameters, asOfDay: number): DaysAhead {
  const held = framed.get(parameters);
  if (held?.asOfDay === asOfDay) return held;
  const grown = AHEAD.map((days) => Math.max(0, seasonDays(parameters, asOfDay, asOfDay + days)));
  const timeVariance = AHEAD.map((days) => parameters.timeNoise * days);
  const made: DaysAhead = {
    asOfDay,
    growthNoise: parameters.growthNoise,
    grown,
    timeVariance,
    nearerTimesRate: timeVariance.map((variance, d) => (grown[d]! > 0 ? (0.5 * variance) / grown[d]! : 0)),
    reach: timeVariance.map((variance) => 0.8 * Math.sqrt(variance)),
    changed: AHEAD.map((days) => -Math.expm1((-CHANGE_PART * parameters.changesPerYear * days) / YEAR_DAYS)),
  };
  framed.set(parameters, made);
  return made;
}

/**
 * Adds to `out`, at each day of `AHEAD`, `weight` times the chance that a level `start` above the limit (below 0: under
 * it) has passed it at `rate`: normal with the skewness of bursts, and the limit drawn nearer because noise may
 * have been past it in between. Days on which the chance is nil or sure are found by halving, not computed one by one.
 *
 * @returns The first place of `AHEAD` with a chance above nil.
 */
export function addChances(
  out: Float64Array,
  weight: number,
  start: number,
  startVariance: number,
  rate: number,
  ahead: DaysAhead,
): number {
  const { growthNoise, grown, timeVariance, nearerTimesRate, reach } = ahead;
  const perRate = 1 / rate;
  let first = 0;
  let sure = out.length;
  for (let low = first, high = sure; low < high; ) {
    const d = (low + high) >> 1;
    const growth = rate * grown[d]!;
    const over = start + growth + Math.min(perRate * nearerTimesRate[d]!, reach[d]!);
    const variance = startVariance + growthNoise * growth + timeVariance[d]!;
    // Squares spare the root: nil while over / sd ≤ −LAST_Z.
    if (over < 0 && over * over >= LAST_Z * LAST_Z * variance) low = d + 1;
    else high = d;
    first = low;
  }
  for (let low = first, high = sure; low < high; ) {
    const d = (low + high) >> 1;
    const growth = rate * grown[d]!;
    const over = start + growth + Math.min(perRate * nearerTimesRate[d]!, reach[d]!);
    const variance = startVariance + growthNoise * growth + timeVariance[d]!;
    if (over > 0 && over * over >= LAST_Z * LAST_Z * variance) high = d;
    else low = d + 1;
    sure = high;
  }
  const top = CHANCE.length - 2;
  for (let d = first; d < sure; d++) {
    const growth = rate * grown[d]!;
    const over = start + growth + Math.min(perRate * nearerTimesRate[d]!, reach[d]!);
    const burst = growthNoise * growth;
    const perSd = 1 / Math.sqrt(startVariance + burst + timeVariance[d]!);
    const skewness = Math.min(1, 2 * growthNoise * burst * perSd * perSd * perSd);
    const place = (over * perSd + LAST_Z) * STEPS_PER_Z;
    const j = place < 0 ? 0 : place > top ? top : place | 0;
    const part = place - j;
    const chance =
      CHANCE[j]! +
      part * (CHANCE[j + 1]! - CHANCE[j]!) +
      skewness * (BEND[j]! + part * (BEND[j + 1]! - BEND[j]!));
    out[d] = out[d]! + weight * Math.max(0, Math.min(1, chance));
  }
  for (let d = sure; d < out.length; d++) out[d] = out[d]! + weight;
  return first;
}

/** Φ(z) and (z² − 1) φ(z) / 6 at even steps: off by less than 2e-6 in between, and five times faster than computed. */
const LAST_Z = 6.5;
const STEPS_PER_Z = 128;
const TABLE_Z = Float64Array.from(
  { length: 2 * LAST_Z * STEPS_PER_Z + 2 },
  (_, j) => j / STEPS_PER_Z - LAST_Z,
);
const CHANCE = TABLE_Z.map(normalCdf);
const BEND = TABLE_Z.map((z) => ((z * z - 1) * normalDensity(z)) / 6);

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
  const read = new Float64Array(days.length);
  for (let i = 0; i < read.length; i++) {
    const before = table[right[i]! - 1]!;
    read[i] = before + part[i]! * (table[right[i]!]! - before);
  }
  return read;
}

/**
 * A first passage whose chances at the days of `AHEAD` are worked out when first asked for.
 * @param chancesBy A cheaper way to chances by many days, where there is one.
 */
export function passageFrom(
  tabulate: () => Float64Array,
  chancesBy?: (days: Float64Array) => Float64Array,
): FirstPassage {
  let held: Float64Array | null = null;
  const chances = (): Float64Array => {
    held ??= tabulate();
    return held;
  };
  return {
    horizonDays: HORIZON_DAYS,
    chancesBy: chancesBy ?? ((days) => readAt(chances(), days)),
    chanceBy(days) {
      const table = chances();
      if (days <= 0) return table[0]!;
      if (days >= HORIZON_DAYS) return table[table.length - 1]!;
      const d = stepAbove(AHEAD, days);
      const part = (days - AHEAD[d - 1]!) / (AHEAD[d]! - AHEAD[d - 1]!);
      return table[d - 1]! + part * (table[d]! - table[d - 1]!);
    },
    quantile(p) {
      const table = chances();
      if (table[0]! >= p) return 0;
      if (table[table.length - 1]! < p) return null;
      const d = stepAbove(table, p);
      const part = (p - table[d - 1]!) / (table[d]! - table[d - 1]!);
      return AHEAD[d - 1]! + part * (AHEAD[d]! - AHEAD[d - 1]!);
    },
  };
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
