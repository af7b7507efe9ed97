import type { Random } from '../../../src/domain/routing/random.js';
import { gamma, normal } from './chance.js';

/**
 * Ways in which ochre may grow in a simulated base. `bursts`, `lag` and `mixed` are outside the estimator's model on
 * purpose; so is the autocatalytic curve, which no member of its family of growth laws meets exactly.
 */
export const PROCESSES = [
  'gamma',
  'wiener',
  'site_season',
  'autocatalytic',
  'saturating',
  'bursts',
  'lag',
  'mixed',
] as const;
export type Process = (typeof PROCESSES)[number];

/** What all lines of one base share; drawn anew for each base, so that no constant of the estimator can fit them all. */
export interface BaseTruth {
  process: Process;
  /** Variance over mean of a gamma step. */
  growthNoise: number;
  /** Standard deviation of a day's growth that comes and goes. */
  dayNoise: number;
  season: number;
  peakDay: number;
  /** Saturating: how fast growth dies down. Autocatalytic: its speed on a clean wall. */
  bend: number;
  /** Days after a clean before deposit takes hold, in the mean. */
  lagDays: number;
  /** Share of the growth that comes in bursts, and their mean size. */
  burstShare: number;
  burstSize: number;
  /** Unannounced changes of a line's rate per year, and their spread on the log scale. */
  changesPerYear: number;
}

export function baseTruth(process: Process, random: Random): BaseTruth {
  const between = (low: number, high: number): number => low + (high - low) * random.unit();
  return {
    process,
    growthNoise: process === 'wiener' ? 0 : between(0.004, 0.016),
    dayNoise: process === 'wiener' ? between(0.002, 0.007) : 0,
    season: process === 'site_season' ? between(0.3, 0.6) : process === 'mixed' ? between(0, 0.3) : 0,
    peakDay: between(60, 140),
    bend: process === 'saturating' ? between(-2.2, -0.8) : between(0.3, 0.6),
    lagDays: process === 'lag' ? between(20, 60) : 0,
    burstShare: process === 'bursts' ? between(0.4, 0.8) : 0,
    burstSize: between(0.04, 0.1),
    changesPerYear: between(0, 0.04),
  };
}

/** How a line's deposit speeds up or slows down, at an occlusion; its own way where the base is mixed. */
export function bendAt(truth: BaseTruth, way: Process, occlusion: number): number {
  const x = Math.min(1, Math.max(0, occlusion));
  if (way === 'autocatalytic') return truth.bend + (1.15 - truth.bend) * 4 * x * (1 - x);
  if (way === 'saturating') return Math.exp((truth.bend > 0 ? -1.4 : truth.bend) * (x - 0.25));
  return 1;
}

/** Growth of the drive on one day, before the bend. */
export function dayGrowth(truth: BaseTruth, rate: number, day: number, random: Random): number {
  const season = 1 + truth.season * Math.cos((2 * Math.PI * (day - truth.peakDay)) / 365.25);
  const mean = rate * season;
  let grown = truth.dayNoise > 0 ? truth.dayNoise * normal(random) : 0;
  const steady = mean * (1 - truth.burstShare);
  grown += truth.growthNoise > 0 ? truth.growthNoise * gamma(steady / truth.growthNoise, random) : steady;
  if (truth.burstShare > 0 && random.unit() < (mean * truth.burstShare) / truth.burstSize) {
    grown += truth.burstSize * -Math.log(1 - random.unit());
  }
  return grown;
}
