import { HORIZON_DAYS } from './evidence.js';
import { POINTS, RATES } from './grid.js';
import { levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import { normalCdf, normalDensity } from './normal.js';
import type { FirstPassage } from './passage.js';
import { type ShapeParameters, seasonDays, YEAR_DAYS } from './shapeParameters.js';

/** Days ahead at which chances are computed; in between they run straight. */
const AHEAD = aheadDays();

function aheadDays(): Float64Array {
  const days = [0];
  for (let day = 2; day < HORIZON_DAYS; day = Math.round(day + Math.max(2, 0.05 * day))) days.push(day);
  days.push(HORIZON_DAYS);
  return Float64Array.from(days);
}

/** Rates with levels in the transformed scale under one growth law. */
export interface Atoms {
  belief: LineBelief;
  weight: Float64Array;
  rate: Float64Array;
  level: Float64Array;
  variance: Float64Array;
}

/** Part of the unannounced changes that come early enough to matter for the running cycle. */
const CHANGE_PART = 0.3;

/** A changed rate is known so roughly that every third point of the grid will do. */
const CHANGED_STEP = 3;

/** The line's present states at the rates `from` to `to` of the grid, as they are and after a change of regime. */
export function presentAtoms(belief: LineBelief, from = 0, to = POINTS): { kept: Atoms; changed: Atoms } {
  const kept: [number, number, number, number][] = [];
  let total = 0;
  let first = 0;
  let second = 0;
  for (let g = 0; g < POINTS; g++) {
    const weight = belief.weight[g]!;
    if (weight <= 0) continue;
    const mean = belief.state.mean[g]!;
    const y = levelToY(belief.shape, mean);
    const slope = slopeAt(belief.shape, mean);
    const variance = belief.state.variance[g]! / (slope * slope);
    total += weight;
    first += weight * y;
    second += weight * (y * y + variance);
    if (g >= from && g < to) kept.push([weight, RATES[g]!, y, variance]);
  }
  const level = first / total;
  const spread = Math.max(1e-9, second / total - level * level);
  const changed: [number, number, number, number][] = [];
  for (let g = from; g < to; g += CHANGED_STEP) {
    let weight = 0;
    for (let k = g; k < Math.min(to, g + CHANGED_STEP); k++) weight += belief.changedWeight[k]!;
    const middle = Math.min(to - 1, g + (CHANGED_STEP >> 1));
    if (weight > 0) changed.push([weight, RATES[middle]!, level, spread]);
  }
  return { kept: atomsOf(belief, kept), changed: atomsOf(belief, changed) };
}

/** The same rates on the day after a clean. */
export function cleanedAtoms(belief: LineBelief, from: number, to: number): Atoms {
  const { residualMean, residualSd } = belief.parameters;
  const y = levelToY(belief.shape, residualMean);
  const slope = slopeAt(belief.shape, residualMean);
  const variance = (residualSd * residualSd) / (slope * slope);
  const rows: [number, number, number, number][] = [];
  for (let g = from; g < to; g++) {
    if (belief.weight[g]! > 0) rows.push([belief.weight[g]!, RATES[g]!, y, variance]);
  }
  return atomsOf(belief, rows);
}

function atomsOf(belief: LineBelief, rows: readonly [number, number, number, number][]): Atoms {
  return {
    belief,
    weight: Float64Array.from(rows, ([w]) => w),
    rate: Float64Array.from(rows, ([, r]) => r),
    level: Float64Array.from(rows, ([, , y]) => y),
    variance: Float64Array.from(rows, ([, , , v]) => v),
  };
}

/** Weighted chance of having passed level `limitY` after `days` of which `grown` are season-weighted. */
export function chanceOf(atoms: Atoms, limitY: number, grown: number, days: number): number {
  const { growthNoise, timeNoise } = atoms.belief.parameters;
  const timeVariance = timeNoise * days;
  const reach = 0.8 * Math.sqrt(timeVariance);
  let sum = 0;
  for (let a = 0; a < atoms.weight.length; a++) {
    sum +=
      atoms.weight[a]! *
      passed(
        atoms.level[a]! - limitY,
        atoms.variance[a]!,
        atoms.rate[a]! * grown,
        growthNoise,
        timeVariance,
        reach,
      );
  }
  return sum;
}

/**
 * Chance that a level `start` above the limit (below 0: under it) is past it after it grew by `growth` on average:
 * normal with the skewness of bursts, and the limit drawn nearer because noise may have been past it in between.
 */
function passed(
  start: number,
  startVariance: number,
  growth: number,
  growthNoise: number,
  timeVariance: number,
  reach: number,
): number {
  const nearer = growth > 0 ? Math.min((0.5 * timeVariance) / growth, reach) : 0;
  const burst = growthNoise * growth;
  const variance = startVariance + burst + timeVariance;
  const sd = Math.sqrt(variance);
  const z = (start + growth + nearer) / sd;
  if (z <= -LAST_Z) return 0;
  if (z >= LAST_Z) return 1;
  const skewness = Math.min(1, (2 * growthNoise * burst) / (variance * sd));
  const place = (z + LAST_Z) * STEPS_PER_Z;
  const j = place | 0;
  const part = place - j;
  const chance =
    CHANCE[j]! +
    part * (CHANCE[j + 1]! - CHANCE[j]!) +
    skewness * (BEND[j]! + part * (BEND[j + 1]! - BEND[j]!));
  return Math.max(0, Math.min(1, chance));
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

/** First passage of a limit by a mixture; `changed` says how it goes if the regime changes. */
export function linePassage(
  parts: readonly { kept: Atoms; changed: Atoms | null }[],
  limit: number,
  asOfDay: number,
): FirstPassage {
  let table: Float64Array | null = null;
  const chances = (): Float64Array => {
    table ??= tabulate(parts, limit, asOfDay);
    return table;
  };
  return {
    horizonDays: HORIZON_DAYS,
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

function tabulate(
  parts: readonly { kept: Atoms; changed: Atoms | null }[],
  limit: number,
  asOfDay: number,
): Float64Array {
  const table = new Float64Array(AHEAD.length);
  let total = 0;
  for (const { kept, changed } of parts) {
    const { shape, parameters } = kept.belief;
    const limitY = levelToY(shape, limit);
    const weight = kept.weight.reduce((sum, w) => sum + w, 0);
    const changedWeight = changed?.weight.reduce((sum, w) => sum + w, 0) ?? 0;
    total += weight;
    for (let d = 0; d < AHEAD.length; d++) {
      const days = AHEAD[d]!;
      const grown = Math.max(0, seasonDays(parameters, asOfDay, asOfDay + days));
      let chance = chanceOf(kept, limitY, grown, days);
      if (changed !== null && changedWeight > 0) {
        const share = changeShare(parameters, days);
        chance =
          (1 - share) * chance + share * (weight / changedWeight) * chanceOf(changed, limitY, grown, days);
      }
      table[d] = table[d]! + chance;
    }
  }
  let highest = 0;
  for (let d = 0; d < table.length; d++) {
    highest = Math.max(highest, Math.min(1, table[d]! / total));
    table[d] = highest;
  }
  return table;
}

function changeShare({ changesPerYear }: ShapeParameters, days: number): number {
  return -Math.expm1((-CHANGE_PART * changesPerYear * days) / YEAR_DAYS);
}
