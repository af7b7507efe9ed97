import type { LineEvidence } from './evidence.js';
import { LOG_RATES, POINTS } from './grid.js';

/**
 * Worse lines are visited more often: the mean log interval between the visits a business booked before this
 * service ruled is one more noisy look at the rate. log g = a + b theta + N(0, c (1/n + .2)); under a fixed
 * round b comes out near 0 and nothing changes.
 */
export interface VisitTimes {
  a: number;
  b: number;
  c: number;
}

export interface Intervals {
  meanLog: Float64Array;
  count: Float64Array;
}

const SAME_VISIT_DAYS = 2;
const LINE_SHARE = 0.2;

export function intervalsOf(lines: readonly LineEvidence[]): Intervals {
  const meanLog = new Float64Array(lines.length);
  const count = new Float64Array(lines.length);
  lines.forEach((line, i) => {
    let last: number | null = null;
    let sum = 0;
    let n = 0;
    for (const event of line.events) {
      if (event.kind === 'regime') continue;
      if (line.ruledFromDay !== undefined && event.day > line.ruledFromDay) break;
      if (last === null) last = event.day;
      const gap = event.day - last;
      if (gap < SAME_VISIT_DAYS) continue;
      // A call ends an interval whatever was booked: it says nothing of the booking.
      if (event.kind !== 'plugged') {
        sum += Math.log(gap);
        n += 1;
      }
      last = event.day;
    }
    count[i] = n;
    meanLog[i] = n > 0 ? sum / n : 0;
  });
  return { meanLog, count };
}

/** One EM step from the posterior means and variances of the log rates. */
export function fitVisitTimes(
  intervals: Intervals,
  mean: Float64Array,
  variance: Float64Array,
  before: VisitTimes,
): VisitTimes {
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let t0 = 0;
  let t1 = 0;
  const n = mean.length;
  for (let i = 0; i < n; i++) {
    if (intervals.count[i] === 0) continue;
    const w = 1 / (1 / intervals.count[i]! + LINE_SHARE);
    s0 += w;
    s1 += w * mean[i]!;
    s2 += w * (mean[i]! * mean[i]! + variance[i]!);
    t0 += w * intervals.meanLog[i]!;
    t1 += w * intervals.meanLog[i]! * mean[i]!;
  }
  const spread = s2 * s0 - s1 * s1;
  if (s0 < 20 || !(spread > 0)) return before;
  const b = (s0 * t1 - s1 * t0) / spread;
  const a = (t0 - b * s1) / s0;
  let squares = 0;
  let lines = 0;
  for (let i = 0; i < n; i++) {
    if (intervals.count[i] === 0) continue;
    const away = intervals.meanLog[i]! - a - b * mean[i]!;
    squares += (away * away + b * b * variance[i]!) / (1 / intervals.count[i]! + LINE_SHARE);
    lines += 1;
  }
  return { a, b, c: Math.max(0.02, squares / lines) };
}

/** Multiplies a line's likelihood by what its intervals say. */
export function takeVisitTimes(
  intervals: Intervals,
  i: number,
  times: VisitTimes,
  weight: Float64Array,
  at: number,
): void {
  if (intervals.count[i] === 0) return;
  const variance = times.c * (1 / intervals.count[i]! + LINE_SHARE);
  for (let g = 0; g < POINTS; g++) {
    const away = intervals.meanLog[i]! - times.a - times.b * LOG_RATES[g]!;
    weight[at + g] = weight[at + g]! * Math.exp((-0.5 * away * away) / variance);
  }
}

/** Log of the factor left out above; without it a search over shapes is biased. */
export function visitTimesScale(intervals: Intervals, times: VisitTimes): number {
  let sum = 0;
  for (const count of intervals.count)
    if (count > 0) sum -= 0.5 * Math.log(times.c * (1 / count + LINE_SHARE));
  return sum;
}
