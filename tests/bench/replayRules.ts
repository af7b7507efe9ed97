import { costGrid } from '../../src/domain/fouling/costCycle.js';
import { costLeastDays, costLeastInterval } from '../../src/domain/fouling/costLeast.js';
import type { PolicyForecast, RateComponent } from '../../src/domain/fouling/passage.js';
import {
  bendAt,
  GAMMA_NOISE,
  type Process,
  type ReplayBase,
  type ReplayLine,
  type ReplayVisit,
  seasonAt,
  WIENER_NOISE,
} from './replayLines.js';

export const VISIT_COST = 1;
export const EVENT_COST = 25;
export const SHORTEST_DAYS = 7;
export const LONGEST_DAYS = 730;

/** A way to say when a line is next visited, in days from `day`; asked after each visit and at the start. */
export interface ReplayRule {
  name: string;
  /** Called at the start and on each anniversary, with all visits so far. */
  learn(base: ReplayBase, visits: readonly (readonly ReplayVisit[])[], day: number): void;
  daysToVisit(
    line: ReplayLine,
    index: number,
    visits: readonly ReplayVisit[],
    day: number,
    trueOcclusion: number,
  ): number;
}

export const fixedDays = (days: number): ReplayRule => ({
  name: `fixed ${days} days`,
  learn: () => {},
  daysToVisit: (line, _index, visits, day) => days - (day - (visits.at(-1)?.day ?? line.installedDay)),
});

/** Slope of each line by least squares through its own cycles, normal quantile; the base's mean where there is none. */
export function leastSquares(risk: number, z: number): ReplayRule {
  let pooled = { rate: 0.001, sd: 0.001 };
  return {
    name: `least squares ${risk}`,
    learn(_base, visits) {
      const rates = visits.flatMap((each) => slopeOf(each)?.rate ?? []);
      if (rates.length < 2) return;
      const mean = rates.reduce((sum, rate) => sum + rate, 0) / rates.length;
      const variance = rates.reduce((sum, rate) => sum + (rate - mean) ** 2, 0) / (rates.length - 1);
      pooled = { rate: mean, sd: Math.sqrt(variance) };
    },
    daysToVisit(line, _index, visits, day) {
      const own = slopeOf(visits);
      const { rate, sd } = own === null || !(own.sd < Infinity) ? pooled : own;
      const last = visits.at(-1);
      const left = line.threshold - (last?.after?.occlusion ?? 0.04);
      const fast = Math.max(1e-5, rate + z * sd);
      return left / fast - (day - (last?.day ?? line.installedDay));
    },
  };
}

/** Growth over days since the clean before, through the origin; sd of the slope from the residuals. */
function slopeOf(visits: readonly ReplayVisit[]): { rate: number; sd: number } | null {
  const points: { days: number; gain: number }[] = [];
  visits.forEach((visit, i) => {
    const before = visits[i - 1];
    if (before === undefined || visit.before === null) return;
    points.push({
      days: visit.day - before.day,
      gain: visit.before.occlusion - (before.after?.occlusion ?? 0.04),
    });
  });
  const squares = points.reduce((sum, { days }) => sum + days * days, 0);
  if (squares === 0) return null;
  const rate = points.reduce((sum, { days, gain }) => sum + days * gain, 0) / squares;
  const residual = points.reduce((sum, { days, gain }) => sum + (gain - rate * days) ** 2, 0);
  const sd = points.length < 2 ? Infinity : Math.sqrt(residual / (points.length - 1) / squares);
  return { rate, sd };
}

/** One who knows the line's true rate, its true state and the process, and spends the risk exactly. */
export function knowing(risk: number): ReplayRule {
  let process: Process = 'gamma';
  return {
    name: `true rate ${risk}`,
    learn: (base) => {
      process = base.process;
    },
    daysToVisit: (line, _index, _visits, day, occlusion) =>
      daysAt(trueForecast(process, line, occlusion, day).passage(line.threshold).chanceBy, risk),
  };
}

/** The same with the cost-least rule. */
export function knowingCostLeast(): ReplayRule {
  let process: Process = 'gamma';
  return {
    name: 'true rate, cost-least',
    learn: (base) => {
      process = base.process;
    },
    daysToVisit: (line, _index, _visits, day, occlusion) =>
      costLeastVisit(trueForecast(process, line, occlusion, day), line, 0),
  };
}

const COSTS = { visit: VISIT_COST, event: EVENT_COST, pastDearLimit: 0, hardenedPerDay: 0, softDays: null };
const GRID = costGrid(LONGEST_DAYS);

/** Days to the visit by the service's own cost-least rule, on the threshold as in the figures of the method. */
export function costLeastVisit(forecast: PolicyForecast, line: ReplayLine, ageDays: number): number {
  const limits = { eventLimit: line.threshold, dearLimit: line.threshold };
  const interval = costLeastInterval(forecast.components, limits, COSTS, GRID);
  return costLeastDays(forecast.components, interval, limits, COSTS, ageDays, GRID) ?? LONGEST_DAYS;
}

function trueForecast(process: Process, line: ReplayLine, occlusion: number, day: number): PolicyForecast {
  const from = (start: number) => (limit: number) => {
    const need = driveBetween(process, start, limit);
    const chanceBy = (days: number): number => {
      const mean = line.rate * seasonDays(process, day, days);
      if (need <= 0) return 1;
      if (mean <= 0) return 0;
      return process === 'wiener' ? wienerPassed(need, line.rate, days) : gammaPassed(need, mean);
    };
    return { horizonDays: 4000, chanceBy, quantile: (p: number) => daysAt(chanceBy, p) };
  };
  const component: RateComponent = {
    weight: 1,
    ratePerDay: line.rate,
    passage: from(occlusion),
    passageAfterClean: from(0.04),
  };
  return {
    asOfDay: day,
    occlusionNow: { mean: occlusion, sd: 0 },
    readingsUsed: 0,
    passage: component.passage,
    components: [component],
  };
}

/** Days of mean growth within `days` from `day`. */
function seasonDays(process: Process, day: number, days: number): number {
  if (process !== 'site_season') return days;
  const step = days / 20;
  let sum = 0;
  for (let i = 0; i < 20; i++) sum += seasonAt(process, day + (i + 0.5) * step) * step;
  return sum;
}

function driveBetween(process: Process, from: number, to: number): number {
  const step = (to - from) / 40;
  let sum = 0;
  for (let i = 0; i < 40; i++) sum += step / bendAt(process, from + (i + 0.5) * step);
  return sum;
}

/** Inverse Gaussian: a Wiener process with drift passes `need` by `days`. */
function wienerPassed(need: number, rate: number, days: number): number {
  const spread = WIENER_NOISE * Math.sqrt(days);
  const reflected =
    Math.exp(Math.min(50, (2 * rate * need) / WIENER_NOISE ** 2)) * normalCdf(-(need + rate * days) / spread);
  return Math.min(1, normalCdf((rate * days - need) / spread) + reflected);
}

/** Gamma process of this mean passes `need`; Wilson & Hilferty (1931), error below .003 from shape 1 on. */
function gammaPassed(need: number, mean: number): number {
  const shape = mean / GAMMA_NOISE;
  const ratio = need / mean;
  return 1 - normalCdf((Math.cbrt(ratio) - 1 + 1 / (9 * shape)) * 3 * Math.sqrt(shape));
}

export function daysAt(chanceBy: (days: number) => number, risk: number): number {
  if (chanceBy(0) >= risk) return 0;
  let low = 0;
  let high = LONGEST_DAYS;
  if (chanceBy(high) < risk) return LONGEST_DAYS;
  while (high - low > 0.5) {
    const middle = (low + high) / 2;
    if (chanceBy(middle) < risk) low = middle;
    else high = middle;
  }
  return low;
}

/** Abramowitz & Stegun 26.2.17, error below 7.5e-8. */
function normalCdf(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const series =
    t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  const tail = (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) * series;
  return z > 0 ? 1 - tail : tail;
}
