import type { LineEvidence } from './evidence.js';
import { LOG_RATES, POINTS } from './grid.js';
import { normalCdf } from './normal.js';

/**
 * Worse lines are visited more often, so the intervals a business booked before this service ruled are one more
 * look at the rate: log interval = a + b t + c t² + line effect N(0, l²) + N(0, s²), t = log rate − MIDDLE. An
 * interval that ended because the line plugged, and the one still open, only say "at least". Under a fixed round
 * b and c come out near 0 and nothing changes.
 */
export interface VisitTimes {
  a: number;
  b: number;
  c: number;
  logLineSd: number;
  logSd: number;
}

export const START_VISIT_TIMES: VisitTimes = {
  a: Math.log(120),
  b: 0,
  c: 0,
  logLineSd: Math.log(0.3),
  logSd: Math.log(0.5),
};

const MIDDLE = Math.log(0.001);
const SAME_VISIT_DAYS = 2;

/** Log intervals of every line: number, mean and squares about it of those observed, and those cut short. */
export interface Intervals {
  count: Float64Array;
  mean: Float64Array;
  squares: Float64Array;
  cut: number[][];
}

export function intervalsOf(lines: readonly LineEvidence[], asOfDay: number): Intervals {
  const out: Intervals = {
    count: new Float64Array(lines.length),
    mean: new Float64Array(lines.length),
    squares: new Float64Array(lines.length),
    cut: [],
  };
  lines.forEach((line, i) => {
    const until = Math.min(asOfDay, line.ruledFromDay ?? asOfDay);
    const observed: number[] = [];
    const cut: number[] = [];
    let last: number | null = null;
    for (const event of line.events) {
      if (event.kind === 'regime') continue;
      if (event.day > until) break;
      last ??= event.day;
      const gap = event.day - last;
      if (gap < SAME_VISIT_DAYS) continue;
      (event.kind === 'plugged' ? cut : observed).push(Math.log(gap));
      last = event.day;
    }
    if (last !== null && until - last >= SAME_VISIT_DAYS) cut.push(Math.log(until - last));
    const mean = observed.reduce((sum, x) => sum + x, 0) / Math.max(1, observed.length);
    out.count[i] = observed.length;
    out.mean[i] = mean;
    out.squares[i] = observed.reduce((sum, x) => sum + (x - mean) * (x - mean), 0);
    out.cut.push(cut);
  });
  return out;
}

/** Adds to each point of `logLikelihood` (of line i, from `at`) how likely its intervals are. */
export function addVisitTimes(
  intervals: Intervals,
  i: number,
  times: VisitTimes,
  logLikelihood: Float64Array,
  at: number,
): void {
  const n = intervals.count[i]!;
  const cut = intervals.cut[i] ?? [];
  if (n === 0 && cut.length === 0) return;
  const lineVariance = Math.exp(2 * times.logLineSd);
  const variance = Math.exp(2 * times.logSd);
  const left = 1 / (1 / lineVariance + n / variance);
  const constant = -0.5 * (n * Math.log(variance) + Math.log(1 + (n * lineVariance) / variance));
  const squares = intervals.squares[i]! / variance;
  const cutSd = Math.sqrt(variance + left);
  for (let g = 0; g < POINTS; g++) {
    const t = Math.max(-3.5, Math.min(3, LOG_RATES[g]! - MIDDLE));
    const expected = times.a + times.b * t + times.c * t * t;
    const away = intervals.mean[i]! - expected;
    const pull = (n * away) / variance;
    let sum = constant - 0.5 * (squares + (n * away * away) / variance - left * pull * pull);
    for (const x of cut) sum += Math.log(1e-6 + normalCdf((expected + left * pull - x) / cutSd));
    logLikelihood[at + g] = logLikelihood[at + g]! + sum;
  }
}
