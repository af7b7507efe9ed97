import { addDays, type IsoDate } from '../calendar/isoDate.js';
import { freshRow } from './freshRow.js';

/** When a line first passes a limit, as a distribution counted from the forecast's day. */
export interface FirstPassage {
  /** Beyond it the forecast says nothing. */
  horizonDays: number;
  /** Chance of having passed within `days`; rises with `days`, above 0 at 0 when the line may be over already. */
  chanceBy(days: number): number;
  /** Days until the chance reaches `p`; null beyond the horizon. */
  quantile(p: number): number | null;
  /** The chances by many days at once, in rising order and not to be written to, where that is cheaper than one by one. */
  chancesBy?(days: Float64Array): Float64Array;
}

/** Chances by each of some days in rising order; since they only rise, a stretch whose ends are alike is not asked in between. */
export function chancesBy(passage: FirstPassage, days: Float64Array): Float64Array {
  if (passage.chancesBy) return passage.chancesBy(days);
  const chances = freshRow(days.length);
  const last = days.length - 1;
  chances[0] = passage.chanceBy(days[0]!);
  chances[last] = passage.chanceBy(days[last]!);
  fillBetween(passage, days, chances, 0, last);
  return chances;
}

const ALIKE = 1e-9;

function fillBetween(
  passage: FirstPassage,
  days: Float64Array,
  chances: Float64Array,
  left: number,
  right: number,
): void {
  if (right - left < 2) return;
  if (chances[right]! - chances[left]! < ALIKE) {
    chances.fill(chances[left]!, left + 1, right);
    return;
  }
  const middle = (left + right) >> 1;
  chances[middle] = passage.chanceBy(days[middle]!);
  fillBetween(passage, days, chances, left, middle);
  fillBetween(passage, days, chances, middle, right);
}

/** One possible rate of a line: the line keeps its rate from clean to clean. */
export interface RateComponent {
  /** Share of the belief; the weights of a forecast add to 1. */
  weight: number;
  ratePerDay: number;
  /** From the line's present state. */
  passage(limit: number): FirstPassage;
  /** From the day after a clean, at this rate. */
  passageAfterClean(limit: number): FirstPassage;
}

/** As much of a line's forecast as a due date needs. */
export interface PolicyForecast {
  asOfDay: number;
  occlusionNow: { mean: number; sd: number };
  readingsUsed: number;
  passage(limit: number): FirstPassage;
  components: readonly RateComponent[];
}

/** First day on which the chance of having passed the limit reaches `risk`; null beyond the horizon. */
export function riskDate(asOf: IsoDate, passage: FirstPassage, risk: number): IsoDate | null {
  const days = passage.quantile(risk);
  return days === null ? null : addDays(asOf, Math.floor(days));
}

/**
 * Share of a cycle's chances that a yearly risk allows: 2 % a year allows about 1 % in half a year.
 * @param cycleDays From the last clean to the visit.
 */
export function allowedChance(yearlyRisk: number, cycleDays: number): number {
  return 1 - Math.exp((cycleDays / 365.25) * Math.log(1 - yearlyRisk));
}

/**
 * Last whole day on which the chance of having passed stays within the yearly risk, counted from the forecast's day.
 *
 * The allowance grows with the cycle, from its clean to the visit, so the date stands still while nothing is
 * found. It never counts a cycle shorter than `minCycleDays`, or the doubt right after a clean would send
 * the crew back on the same day. The first crossing counts, not the last: a line that may be one of a few
 * fast ones must be seen before they plug, however slow the others are.
 *
 * @param ageDays Days since the last clean.
 * @returns       0 when the risk is spent already; null when it is not spent within the horizon.
 */
export function yearlyRiskDays(
  passage: Pick<FirstPassage, 'chanceBy' | 'horizonDays'>,
  yearlyRisk: number,
  ageDays: number,
  minCycleDays: number,
): number | null {
  const within = (days: number): boolean =>
    passage.chanceBy(days) <= allowedChance(yearlyRisk, Math.max(ageDays + days, minCycleDays));
  if (!within(0)) return 0;
  const horizon = Math.floor(passage.horizonDays);
  let low = 0;
  let high = Math.min(STEP_DAYS, horizon);
  while (within(high)) {
    if (high >= horizon) return null;
    low = high;
    high = Math.min(horizon, Math.ceil(high * STEP_RATIO));
  }
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (within(middle)) low = middle;
    else high = middle;
  }
  return low;
}

/** A passage is smooth over a tenth of its time: coarser steps could jump over a crossing. */
const STEP_DAYS = 7;
const STEP_RATIO = 1.15;
