import { POINTS } from './grid.js';
import type { FilterState } from './lineFilter.js';
import { normalCdf } from './normal.js';

/** States of a level with the belief in each. */
export interface LevelPart {
  weight: Float64Array;
  state: Pick<FilterState, 'mean' | 'variance'>;
}

export const withinBore = (x: number): number => Math.min(1, Math.max(0, x));

/** Quantiles of the level, in the order asked, held within the bore. */
export function levelQuantiles(parts: readonly LevelPart[], chances: readonly number[]): number[] {
  let total = 0;
  for (const { weight } of parts) for (const w of weight) total += w;
  const below = (x: number): number => {
    let sum = 0;
    for (const { weight, state } of parts) {
      for (let g = 0; g < POINTS; g++) {
        const w = weight[g]!;
        if (w > 1e-4 * total) sum += w * normalCdf((x - state.mean[g]!) / Math.sqrt(state.variance[g]!));
      }
    }
    return sum / total;
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
  return { mean: withinBore(mean), sd: Math.sqrt(Math.max(1e-8, second / total - mean * mean)) };
}
