import { POINTS } from './grid.js';
import type { FilterState } from './lineFilter.js';
import { normalQuantile, tabledCdf, tabledDensity } from './normal.js';

/** States of a level with the belief in each. */
export interface LevelPart {
  weight: Float64Array;
  state: Pick<FilterState, 'mean' | 'variance'>;
}

const withinBore = (x: number): number => Math.min(1, Math.max(0, x));

/** Pairs of states of less belief than this are left out. */
const LEAST_SHARE = 1e-4;
/** Steps towards a quantile, and how near is near enough. */
const MOST_STEPS = 12;
const NEAR = 2e-5;

/**
 * Quantiles of the level, in the order asked, held within the bore. Neighbouring states are taken together: off by less than
 * two thousandths of the bore against every state on its own.
 */
export function levelQuantiles(
  parts: readonly LevelPart[],
  chances: readonly number[],
  { mean, sd } = levelMoments(parts),
): number[] {
  const count = takeInPairs(parts);
  return chances.map((p) => quantileOf(p, withinBore(mean + sd * deviationsAt(p)), count));
}

const deviations = new Map<number, number>();

function deviationsAt(p: number): number {
  const known = deviations.get(p);
  if (known !== undefined) return known;
  const found = normalQuantile(p);
  deviations.set(p, found);
  return found;
}

/** Share, mean and one over the standard deviation of each pair of neighbouring states. */
const MOST_PAIRS = 6 * ((POINTS + 1) / 2);
let pairs = {
  share: new Float64Array(MOST_PAIRS),
  mean: new Float64Array(MOST_PAIRS),
  perSd: new Float64Array(MOST_PAIRS),
};

function takeInPairs(parts: readonly LevelPart[]): number {
  const size = parts.length * ((POINTS + 1) / 2);
  if (size > pairs.share.length)
    pairs = { share: new Float64Array(size), mean: new Float64Array(size), perSd: new Float64Array(size) };
  const { share, mean, perSd } = pairs;
  let total = 0;
  for (const { weight } of parts) for (let g = 0; g < POINTS; g++) total += weight[g]!;
  let count = 0;
  for (const { weight, state } of parts) {
    for (let g = 0; g < POINTS; g += 2) {
      const b = g + 1 < POINTS ? weight[g + 1]! : 0;
      const both = weight[g]! + b;
      if (!(both > LEAST_SHARE * total)) continue;
      const part = b / both;
      const apart = part > 0 ? state.mean[g + 1]! - state.mean[g]! : 0;
      const more = part > 0 ? state.variance[g + 1]! - state.variance[g]! : 0;
      share[count] = both / total;
      mean[count] = state.mean[g]! + part * apart;
      perSd[count++] = 1 / Math.sqrt(state.variance[g]! + part * more + part * (1 - part) * apart * apart);
    }
  }
  return count;
}

/** Newton's steps from `start`, halved where they would leave what is known to hold the quantile. */
function quantileOf(p: number, start: number, count: number): number {
  let low = 0;
  let high = 1;
  let x = start;
  for (let step = 0; step < MOST_STEPS; step++) {
    const { share, mean, perSd } = pairs;
    let below = -p;
    let density = 0;
    for (let k = 0; k < count; k++) {
      const z = (x - mean[k]!) * perSd[k]!;
      below += share[k]! * tabledCdf(z);
      density += share[k]! * perSd[k]! * tabledDensity(z);
    }
    if (below < 0) low = x;
    else high = x;
    const next = x - below / (density + 1e-12);
    // Beyond an end of the bore lies that end itself.
    const to = next > low && next < high ? next : next <= 0 && low === 0 ? high * 0.1 : (low + high) / 2;
    if (Math.abs(to - x) < NEAR) return to;
    x = to;
  }
  return x;
}

/** Standard deviations from an end of the bore beyond which what lies outside counts for nothing. */
const WELL_WITHIN = 5;

/** Mean and standard deviation of the level, where what is believed beyond an end of the bore lies at that end. */
export function levelMoments(parts: readonly LevelPart[]): { mean: number; sd: number } {
  let total = 0;
  let first = 0;
  let second = 0;
  for (const { weight, state } of parts) {
    for (let g = 0; g < POINTS; g++) {
      const w = weight[g]!;
      if (!(w > 0)) continue;
      const mean = state.mean[g]!;
      const square = state.variance[g]! + mean * mean;
      const sd = Math.sqrt(state.variance[g]!);
      total += w;
      if (mean > WELL_WITHIN * sd && mean < 1 - WELL_WITHIN * sd) {
        first += w * mean;
        second += w * square;
        continue;
      }
      const toEmpty = -mean / sd;
      const toFull = (1 - mean) / sd;
      const full = 1 - tabledCdf(toFull);
      const within = tabledCdf(toFull) - tabledCdf(toEmpty);
      const low = sd * tabledDensity(toEmpty);
      const high = sd * tabledDensity(toFull);
      first += w * (full + mean * within + low - high);
      second += w * (full + square * within + mean * low - (mean + 1) * high);
    }
  }
  const mean = withinBore(first / total);
  return { mean, sd: Math.sqrt(Math.max(1e-8, second / total - mean * mean)) };
}
