import type { EvidenceEvent, LineEvidence } from './evidence.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS } from './grid.js';
import { tabledCdf } from './normal.js';

/**
 * Worse lines are visited more often, so the intervals a business chose freely are one more
 * look at the rate; those set by this service, by care terms, a decision or closed roads are none: log interval = expected(log rate) + line effect N(0, l²) + N(0, s²). The expected one runs
 * straight between nodes, since rounds have a longest and a shortest interval. An interval that ended because
 * somebody called, and the one still open, only say "at least". Some lines are visited for reasons of their own, by
 * a rate long past or with their neighbours: their intervals say nothing. Under a fixed round all nodes come out
 * level and nothing changes.
 */
export interface VisitTimes {
  /** Expected log interval at each of VISIT_NODES. */
  nodes: readonly number[];
  logLineSd: number;
  logSd: number;
  /** Logit of the share of lines whose visits do not follow their rate. */
  apart: number;
}

export const sameVisitTimes = (a: VisitTimes, b: VisitTimes): boolean =>
  a === b ||
  (a.logLineSd === b.logLineSd &&
    a.logSd === b.logSd &&
    a.apart === b.apart &&
    a.nodes.every((node, k) => node === b.nodes[k]));

/** Log rates over MIDDLE. */
const VISIT_NODES = [-4, -2.5, -1.25, 0, 1.25, 2.5] as const;

export const START_VISIT_TIMES: VisitTimes = {
  nodes: VISIT_NODES.map(() => Math.log(120)),
  logLineSd: Math.log(0.3),
  logSd: Math.log(0.5),
  apart: -3,
};

const MIDDLE = Math.log(0.001);
/** Spread of log intervals over the lines that go by reasons of their own. */
const APART_SD = 0.7;
/** Even a fixed round is kept only so well: no interval may say too much. */
const LEAST_SD = 0.1;
/** Who comes back so soon finishes what was begun (common practice, no source): no interval. */
const SAME_VISIT_DAYS = 14;

/** Log intervals of every line: number, mean and squares about it of those observed, and those cut short. */
export interface Intervals {
  count: Float64Array;
  mean: Float64Array;
  squares: Float64Array;
  cut: number[][];
}

/** The crew would have come later. */
const wasCalled = (event: EvidenceEvent): boolean =>
  event.kind === 'plugged' || (event.kind === 'reading' && event.called === true);

export function intervalsOf(lines: readonly LineEvidence[], asOfDay: number): Intervals {
  const out = roomForIntervals(lines.length);
  for (let i = 0; i < lines.length; i++) putIntervals(out, i, lines[i]!, asOfDay);
  return out;
}

export function roomForIntervals(lines: number): Intervals {
  return {
    count: freshRow(lines),
    mean: freshRow(lines),
    squares: freshRow(lines),
    cut: Array.from({ length: lines }, () => NO_CUTS),
  };
}

const NO_CUTS: number[] = [];

/** The intervals of line i. */
export function putIntervals(out: Intervals, i: number, line: LineEvidence, asOfDay: number): void {
  const until = Math.min(asOfDay, line.ruledFromDay ?? asOfDay);
  let cut = NO_CUTS;
  let last: number | null = null;
  observed.length = 0;
  for (const event of line.events) {
    if (event.kind === 'regime') continue;
    if (event.day > until) break;
    last ??= event.day;
    const gap = event.day - last;
    if (gap < SAME_VISIT_DAYS) continue;
    if (!wasCalled(event)) observed.push(Math.log(gap));
    else if (cut === NO_CUTS) cut = [Math.log(gap)];
    else cut.push(Math.log(gap));
    last = event.day;
  }
  if (last !== null && until - last >= SAME_VISIT_DAYS) {
    if (cut === NO_CUTS) cut = [];
    cut.push(Math.log(until - last));
  }
  let sum = 0;
  for (const x of observed) sum += x;
  const mean = sum / Math.max(1, observed.length);
  let squares = 0;
  for (const x of observed) squares += (x - mean) * (x - mean);
  out.count[i] = observed.length;
  out.mean[i] = mean;
  out.squares[i] = squares;
  out.cut[i] = cut;
}

const observed: number[] = [];

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
  const variance = Math.exp(2 * times.logSd) + LEAST_SD * LEAST_SD;
  const lineVariance = Math.exp(2 * times.logLineSd);
  const middle = times.nodes.reduce((sum, x) => sum + x, 0) / times.nodes.length;
  const apart = 1 / (1 + Math.exp(-times.apart));
  expected[0] = middle;
  intervalsAt(intervals, i, 1, variance, lineVariance + APART_SD * APART_SD);
  const own = Math.log(apart) + found[0]!;
  const logFollowing = Math.log(1 - apart);
  for (let g = 0; g < POINTS; g++) {
    const node = NODE_BELOW[g]!;
    const from = times.nodes[node]!;
    expected[g] = from + PART_ABOVE[g]! * (times.nodes[node + 1]! - from);
  }
  intervalsAt(intervals, i, POINTS, variance, lineVariance);
  for (let g = 0; g < POINTS; g++) {
    // Of some hundred intervals either likelihood leaves the range of numbers.
    const following = logFollowing + found[g]!;
    const more = Math.max(following, own);
    logLikelihood[at + g] =
      logLikelihood[at + g]! + more + Math.log(1 + Math.exp(Math.min(following, own) - more));
  }
}

const expected = new Float64Array(POINTS);
const found = new Float64Array(POINTS);

/**
 * Log likelihood of line i's intervals, less their constant parts, when log intervals of `expected` are usual: for the
 * first `points` of `expected`, into `found`.
 */
function intervalsAt(
  { count, mean, squares, cut }: Intervals,
  i: number,
  points: number,
  variance: number,
  lineVariance: number,
): void {
  const n = count[i]!;
  const left = 1 / (1 / lineVariance + n / variance);
  const perVariance = 1 / variance;
  const level =
    n * Math.log(variance) + Math.log(1 + n * lineVariance * perVariance) + squares[i]! * perVariance;
  // Of the square of what the mean is away: n/s² − left (n/s²)².
  const steep = n * perVariance * (1 - left * n * perVariance);
  for (let g = 0; g < points; g++) {
    const away = mean[i]! - expected[g]!;
    found[g] = -0.5 * (level + steep * away * away);
  }
  const perCutSd = 1 / Math.sqrt(variance + left);
  for (const x of cut[i] ?? []) {
    for (let g = 0; g < points; g++) {
      const usual = expected[g]! + left * n * perVariance * (mean[i]! - expected[g]!);
      found[g] = found[g]! + Math.log(1e-6 + tabledCdf((usual - x) * perCutSd));
    }
  }
}

/** Where each rate of the grid lies between the nodes: the node below, and how far on. */
const PLACES = Array.from(LOG_RATES, (theta) => {
  const t = Math.max(VISIT_NODES[0], Math.min(2.499, theta - MIDDLE));
  const node = VISIT_NODES.findIndex((_, k) => t < (VISIT_NODES[k + 1] ?? Infinity));
  const [from = 0, to = 1] = VISIT_NODES.slice(node, node + 2);
  return { node, part: (t - from) / (to - from) };
});
const NODE_BELOW = Uint8Array.from(PLACES, ({ node }) => node);
const PART_ABOVE = Float64Array.from(PLACES, ({ part }) => part);

/** Log prior: weak, towards a straight and level run of the expected interval and few lines apart. */
export function visitTimesPrior({ nodes, logLineSd, apart }: VisitTimes): number {
  let sum = -0.5 * (logLineSd + 1.2) * (logLineSd + 1.2) - 0.5 * (apart + 3) * (apart + 3);
  for (let k = 1; k < nodes.length; k++) {
    const slope = nodes[k]! - nodes[k - 1]!;
    sum -= (0.5 * slope * slope) / (0.8 * 0.8);
    if (k > 1) {
      const bend = slope - (nodes[k - 1]! - nodes[k - 2]!);
      sum -= (0.5 * bend * bend) / (0.4 * 0.4);
    }
  }
  return sum;
}

/** Directions in which the search moves the law of visit times, longest first. */
export const VISIT_MOVES: readonly ((times: VisitTimes, by: number) => VisitTimes)[] = [
  (times, by) => ({ ...times, nodes: times.nodes.map((x) => x + by) }),
  (times, by) => ({ ...times, nodes: times.nodes.map((x, k) => x - 0.6 * by * VISIT_NODES[k]!) }),
  (times, by) => ({ ...times, logSd: times.logSd + by }),
  (times, by) => ({ ...times, logLineSd: times.logLineSd + by }),
  (times, by) => ({ ...times, apart: times.apart + 2 * by }),
  ...VISIT_NODES.map(
    (_, k) =>
      (times: VisitTimes, by: number): VisitTimes => ({
        ...times,
        nodes: times.nodes.map((x, j) => (j === k ? x + by : x)),
      }),
  ),
];
