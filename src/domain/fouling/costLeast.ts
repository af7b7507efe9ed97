import { type CostCycle, costCycle, type LineCosts } from './costCycle.js';
import { freshRow } from './freshRow.js';
import type { RateComponent } from './passage.js';

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
  const curves = components.map((component) => {
    const dear = costs.pastDearLimit > 0 ? component.passageAfterClean(limits.dearLimit) : null;
    return costCycle(component.passageAfterClean(limits.eventLimit), dear, grid, 0, costs);
  });
  return leastCostOf(components, curves, grid);
}

/** The same from the cycle of each component. */
export function leastCostOf(
  components: readonly Pick<RateComponent, 'weight'>[],
  curves: readonly CostCycle[],
  grid: Float64Array,
): CostLeastInterval {
  const mean = freshRow(grid.length).fill(Infinity);
  for (let i = 1; i < grid.length; i++) {
    let sum = 0;
    for (let k = 0; k < curves.length; k++) {
      sum += (components[k]!.weight * curves[k]!.cost[i]!) / curves[k]!.time[i]!;
    }
    mean[i] = sum;
  }
  const best = leastOf(grid, mean);
  const costPerDayOf = freshRow(curves.length);
  const cycleDaysOf = freshRow(curves.length);
  curves.forEach(({ cost, time }, k) => {
    costPerDayOf[k] = cost[best.index]! / time[best.index]!;
    cycleDaysOf[k] = time[best.index]!;
  });
  return { days: best.atEnd ? null : best.days, costPerDay: best.value, costPerDayOf, cycleDaysOf };
}

/**
 * Days from now until the visit of least cost in the running cycle; null when no visit pays within the grid, as
 * is then true of the interval too.
 *
 * Waiting saves each rate its own cost per day (the next cycle starts later) and risks the event. Rates
 * are weighed by how many cycles a year they have, so that right after a clean the curve runs level at
 * `interval.days`: its low point but for the grid, unless the rate is so doubtful that there is none. Of several low
 * points the one nearest to that interval counts, since a far one would gamble once on the line being slow; without
 * any the interval stands. Nothing here depends on the calendar but the state: with no news the date stands still.
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
  const total = freshRow(grid.length);
  components.forEach((component, k) => {
    const share = component.weight / interval.cycleDaysOf[k]!;
    const perDay = interval.costPerDayOf[k]!;
    const dear = costs.pastDearLimit > 0 ? component.passage(limits.dearLimit) : null;
    const curve = costCycle(component.passage(limits.eventLimit), dear, grid, ageDays, costs);
    for (let i = 0; i < grid.length; i++) total[i]! += share * (curve.cost[i]! - perDay * curve.time[i]!);
  });
  if (interval.days === null) return lastLow(grid, total);
  const aim = Math.max(0, interval.days - ageDays);
  const [first = aim, ...others] = lows(grid, total);
  return others.reduce(
    (nearest, low) => (Math.abs(low - aim) < Math.abs(nearest - aim) ? low : nearest),
    first,
  );
}

/** The least of a curve; at the end when nothing before is less than the end by more than rounding. */
function leastOf(grid: Float64Array, value: Float64Array) {
  let index = 0;
  for (let i = 1; i < value.length; i++) if (value[i]! < value[index]!) index = i;
  const last = value.length - 1;
  const atEnd = value[last]! - value[index]! <= NO_GAIN * Math.abs(value[last]!);
  return { index, atEnd, ...bottomAt(grid, value, index) };
}

/** The low points of a curve before its end, first to last. */
function lows(grid: Float64Array, value: Float64Array): number[] {
  const found: number[] = [];
  for (let i = 0; i < value.length - 1; i++) {
    const cameUp = i > 0 && value[i]! >= value[i - 1]!;
    const goesDown = value[i + 1]! - value[i]! <= NO_GAIN * Math.abs(value[i + 1]!);
    if (!cameUp && !goesDown) found.push(bottomAt(grid, value, i).days);
  }
  return found;
}

/** The last low point of a curve; null when the curve falls to its end. */
function lastLow(grid: Float64Array, value: Float64Array): number | null {
  const last = value.length - 1;
  const falls = value[last]! - value[last - 1]! <= NO_GAIN * Math.abs(value[last]!);
  return falls ? null : (lows(grid, value).at(-1) ?? null);
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
