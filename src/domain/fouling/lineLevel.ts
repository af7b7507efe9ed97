import { freshRow } from './freshRow.js';
import { POINTS } from './grid.js';
import type { FilterState } from './lineFilter.js';
import { tabledCdf } from './normal.js';

/** States of a level with the belief in each. */
export interface LevelPart {
  weight: Float64Array;
  state: Pick<FilterState, 'mean' | 'variance'>;
}

const withinBore = (x: number): number => Math.min(1, Math.max(0, x));

/** Quantiles of the level, in the order asked, held within the bore. */
export function levelQuantiles(parts: readonly LevelPart[], chances: readonly number[]): number[] {
  let total = 0;
  for (const { weight } of parts) for (let g = 0; g < POINTS; g++) total += weight[g]!;
  const size = parts.length * POINTS;
  const [share, mean, perSd] = [freshRow(size), freshRow(size), freshRow(size)];
  let count = 0;
  for (const { weight, state } of parts) {
    for (let g = 0; g < POINTS; g++) {
      if (!(weight[g]! > LEAST_SHARE * total)) continue;
      share[count] = weight[g]! / total;
      mean[count] = state.mean[g]!;
      perSd[count++] = 1 / Math.sqrt(state.variance[g]!);
    }
  }
  const below = (x: number): number => {
    let sum = 0;
    for (let k = 0; k < count; k++) sum += share[k]! * tabledCdf((x - mean[k]!) * perSd[k]!);
    return sum;
  };
  return chances.map((p) => {
    let low = 0;
    let high = 1;
    for (let i = 0; i < 12; i++) {
      const middle = (low + high) / 2;
      if (below(middle) < p) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  });
}

const LEAST_SHARE = 1e-4;

/** Of a level that is either 0 or 1. */
const WIDEST_SD = 0.5;

export function levelMoments(parts: readonly LevelPart[]): { mean: number; sd: number } {
  let total = 0;
  let first = 0;
  let second = 0;
  for (const { weight, state } of parts) {
    for (let g = 0; g < POINTS; g++) {
      const w = weight[g]!;
      const mean = state.mean[g]!;
      total += w;
      first += w * mean;
      second += w * (state.variance[g]! + mean * mean);
    }
  }
  const mean = first / total;
  const variance = Math.max(1e-8, second / total - mean * mean);
  return { mean: withinBore(mean), sd: Math.min(WIDEST_SD, Math.sqrt(variance)) };
}
