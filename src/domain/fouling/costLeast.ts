import type { FirstPassage, RateComponent } from './passage.js';

/** Costs of one line, in visits or in money, the same unit throughout. */
export interface LineCosts {
  visit: number;
  /** What passing `eventLimit` costs: flood, trace, dig. */
  event: number;
  /** Added to a visit that finds the line past `dearLimit`. */
  pastDearLimit: number;
  /** Added to a visit per day that the deposit is older than `softDays`. */
  hardenedPerDay: number;
  /** Days a deposit stays soft; null when it does not harden. */
  softDays: number | null;
}

export interface CostLimits {
  eventLimit: number;
  dearLimit: number;
}

/** What serving a line at one interval costs per day, and how long each rate's cycle then lasts. */
export interface CostLeastInterval {
  /** Best interval from clean to visit; null when no visit within the grid beats waiting for the event. */
  days: number | null;
  costPerDay: number;
  /** Per component: its own cost per day and mean cycle length at that interval. */
  costPerDayOf: Float64Array;
  cycleDaysOf: Float64Array;
}

/** Days at which costs are compared: 0, then steps that grow by `ratio`, at least a day apart. */
export function costGrid(maxDays: number, ratio = 1.25): Float64Array {
  const days = [0];
  for (let at = Math.min(7, maxDays); at < maxDays; at = Math.max(at + 1, at * ratio)) days.push(at);
  days.push(maxDays);
  return Float64Array.from(days);
}

/**
 * Interval of least mean cost for a line whose rate is not known for sure.
 *
 * The line keeps its rate, so each rate has its own long-run cost per day, (visit · R(t) + event · F(t)) / ∫₀ᵗ R,
 * and what is minimised is their mean over the belief. Putting the mixed distribution into that fraction
 * instead would say "never visit" to any doubtful line: its hazard falls, because the fast ones die first.
 *
 * @see Barlow & Proschan (1965), Mathematical Theory of Reliability (age replacement), for one known rate.
 */
export function costLeastInterval(
  components: readonly RateComponent[],
  limits: CostLimits,
  costs: LineCosts,
  grid: Float64Array,
): CostLeastInterval {
  const curves = components.map((component) =>
    cycleCurve(
      component.passageAfterClean(limits.eventLimit),
      component.passageAfterClean(limits.dearLimit),
      grid,
      0,
      costs,
    ),
  );
  const mean = new Float64Array(grid.length).fill(Infinity);
  for (let i = 1; i < grid.length; i++) {
    let sum = 0;
    components.forEach((component, k) => {
      const curve = curves[k]!;
      sum += (component.weight * curve.cost[i]!) / curve.time[i]!;
    });
    mean[i] = sum;
  }
  const best = leastOf(grid, mean);
  const costPerDayOf = Float64Array.from(
    curves,
    (curve) => curve.cost[best.index]! / curve.time[best.index]!,
  );
  const cycleDaysOf = Float64Array.from(curves, (curve) => curve.time[best.index]!);
  return { days: best.atEnd ? null : best.days, costPerDay: best.value, costPerDayOf, cycleDaysOf };
}

/**
 * Days from now until the visit of least cost in the running cycle; null when no visit pays within the grid.
 *
 * Waiting saves each rate its own cost per day (the next cycle starts later) and risks the event. Rates
 * are weighed by how many cycles a year they have, so that right after a clean the answer is `interval.days`
 * exactly. Of several low points the one nearest to that interval counts: a far one would gamble once on the
 * line being slow. Nothing here depends on the calendar but the state: with no news the date stands still.
 *
 * @param ageDays Age of the deposit now.
 */
export function costLeastDays(
  components: readonly RateComponent[],
  interval: CostLeastInterval,
  limits: CostLimits,
  costs: LineCosts,
  ageDays: number,
  grid: Float64Array,
): number | null {
  const total = new Float64Array(grid.length);
  components.forEach((component, k) => {
    const share = component.weight / interval.cycleDaysOf[k]!;
    const perDay = interval.costPerDayOf[k]!;
    const curve = cycleCurve(
      component.passage(limits.eventLimit),
      component.passage(limits.dearLimit),
      grid,
      ageDays,
      costs,
    );
    for (let i = 0; i < grid.length; i++) total[i]! += share * (curve.cost[i]! - perDay * curve.time[i]!);
  });
  const aim = interval.days === null ? Infinity : Math.max(0, interval.days - ageDays);
  return lowNearest(grid, total, aim);
}

/** Expected cost of one cycle that ends at the visit or at the event before, and its expected length. */
interface CycleCurve {
  cost: Float64Array;
  time: Float64Array;
}

function cycleCurve(
  event: FirstPassage,
  dear: FirstPassage,
  grid: Float64Array,
  ageDays: number,
  costs: LineCosts,
): CycleCurve {
  const cost = new Float64Array(grid.length);
  const time = new Float64Array(grid.length);
  const rising = costs.pastDearLimit > 0;
  let before = 1;
  for (let i = 0; i < grid.length; i++) {
    const days = grid[i]!;
    const passed = event.chanceBy(days);
    const open = 1 - passed;
    if (i > 0) time[i] = time[i - 1]! + meanOpen(before, open) * (days - grid[i - 1]!);
    before = open;
    const hardenedDays = costs.softDays === null ? 0 : Math.max(0, ageDays + days - costs.softDays);
    const pastDear = rising ? Math.max(0, dear.chanceBy(days) - passed) : 0;
    cost[i] =
      open * (costs.visit + hardenedDays * costs.hardenedPerDay) +
      pastDear * costs.pastDearLimit +
      passed * costs.event;
  }
  return { cost, time };
}

/** Mean share of lines still open over a step, at a steady hazard: exact for a memoryless line on any grid. */
function meanOpen(before: number, after: number): number {
  if (before <= 0) return 0;
  const floor = Math.max(after, before * 1e-9);
  const ratio = before / floor;
  return ratio < 1.0001 ? (before + after) / 2 : (before - floor) / Math.log(ratio);
}

/** The least of a curve; at the end when nothing before is less than the end by more than rounding. */
function leastOf(grid: Float64Array, value: Float64Array) {
  let index = 0;
  for (let i = 1; i < value.length; i++) if (value[i]! < value[index]!) index = i;
  const last = value.length - 1;
  const atEnd = value[last]! - value[index]! <= NO_GAIN * Math.abs(value[last]!);
  return { index, atEnd, ...bottomAt(grid, value, index) };
}

/** The low point of a curve nearest to `aim`; null when the curve falls to its end. */
function lowNearest(grid: Float64Array, value: Float64Array, aim: number): number | null {
  let nearest: number | null = null;
  for (let i = 0; i < value.length - 1; i++) {
    const cameUp = i > 0 && value[i]! >= value[i - 1]!;
    const goesDown = value[i + 1]! - value[i]! <= NO_GAIN * Math.abs(value[i + 1]!);
    if (cameUp || goesDown) continue;
    const { days } = bottomAt(grid, value, i);
    if (nearest === null || Math.abs(days - aim) < Math.abs(nearest - aim)) nearest = days;
  }
  return nearest;
}

/** A saving smaller than this share is rounding, not a reason to go. */
const NO_GAIN = 1e-6;

/** Where the parabola through a point and its neighbours is least. */
function bottomAt(grid: Float64Array, value: Float64Array, index: number): { days: number; value: number } {
  const here = value[index]!;
  const left = value[index - 1];
  const right = value[index + 1];
  if (left === undefined || right === undefined || left === Infinity)
    return { days: grid[index]!, value: here };
  const back = grid[index]! - grid[index - 1]!;
  const on = grid[index + 1]! - grid[index]!;
  const slopeBack = (here - left) / back;
  const bend = ((right - here) / on - slopeBack) / (back + on);
  const shift = bend > 0 ? -(slopeBack + bend * back) / (2 * bend) : 0;
  return { days: grid[index]! + shift, value: here - bend * shift * shift };
}
