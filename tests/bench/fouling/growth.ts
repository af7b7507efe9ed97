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
function bendAt(truth: BaseTruth, way: Process, occlusion: number): number {
  const x = Math.min(1, Math.max(0, occlusion));
  if (way === 'autocatalytic') return truth.bend + (1.15 - truth.bend) * 4 * x * (1 - x);
  if (way === 'saturating') return Math.exp((truth.bend > 0 ? -1.4 : truth.bend) * (x - 0.25));
  return 1;
}

/** Growth of the drive over some days, before the bend; few enough that more than one burst is rare. */
function driveGrowth(truth: BaseTruth, rate: number, day: number, days: number, random: Random): number {
  const season = 1 + truth.season * Math.cos((2 * Math.PI * (day - truth.peakDay)) / 365.25);
  const mean = rate * season * days;
  let grown = truth.dayNoise > 0 ? truth.dayNoise * Math.sqrt(days) * normal(random) : 0;
  const steady = mean * (1 - truth.burstShare);
  grown += truth.growthNoise > 0 ? truth.growthNoise * gamma(steady / truth.growthNoise, random) : steady;
  if (truth.burstShare > 0 && random.unit() < (mean * truth.burstShare) / truth.burstSize) {
    grown += truth.burstSize * -Math.log(1 - random.unit());
  }
  return grown;
}

/** A line's deposit at the start of a day. */
export interface Deposit {
  ratePerDay: number;
  /** Fraction of the bore. */
  level: number;
  /** Days left until it takes hold. */
  lagDays: number;
}

export function afterDays(
  { ratePerDay, level, lagDays }: Deposit,
  truth: BaseTruth,
  way: Process,
  day: number,
  days: number,
  random: Random,
): Deposit {
  const changes = random.unit() < (truth.changesPerYear * days) / 365.25;
  const rate = changes ? ratePerDay * Math.exp(0.7 * normal(random)) : ratePerDay;
  if (lagDays > 0) return { ratePerDay: rate, level, lagDays: Math.max(0, lagDays - days) };
  const grown = level + bendAt(truth, way, level) * driveGrowth(truth, rate, day, days, random);
  return { ratePerDay: rate, level: Math.min(1, Math.max(0, grown)), lagDays: 0 };
}

/** Truth is known for so long. */
export const HORIZON_DAYS = 4380;

/**
 * Days until the limit is first passed if nobody cleans; 0 when over; Infinity beyond the horizon.
 * @param most Fraction of the bore to grow in one step, longer than a day where the line is slow; 0 goes day by day.
 */
export function crossingDays(
  from: Deposit,
  limit: number,
  truth: BaseTruth,
  way: Process,
  asOfDay: number,
  most: number,
  random: Random,
): number {
  if (from.level >= limit) return 0;
  let deposit = from;
  for (let ahead = 0; ahead < HORIZON_DAYS; ) {
    const days = Math.max(1, Math.min(14, Math.floor(most / deposit.ratePerDay)));
    deposit = afterDays(deposit, truth, way, asOfDay + ahead, days, random);
    ahead += days;
    if (deposit.level >= limit) return ahead;
  }
  return Infinity;
}
