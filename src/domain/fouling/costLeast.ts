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
  const on = (days: Float64Array) => {
    const curves = components.map((component) => {
      const dear = costs.pastDearLimit > 0 ? component.passageAfterClean(limits.dearLimit) : null;
      return costCycle(component.passageAfterClean(limits.eventLimit), dear, days, 0, costs);
    });
    return leastCost(components, curves, days);
  };
  const { interval, sharpAt } = on(grid);
  return sharpAt === null ? interval : on(finerAround(grid, sharpAt)).interval;
}

/** The same from the cycle of each component, as exactly as the grid tells it. */
export function leastCostOf(
  components: readonly Pick<RateComponent, 'weight'>[],
  curves: readonly CostCycle[],
  grid: Float64Array,
): CostLeastInterval {
  return leastCost(components, curves, grid).interval;
}

/** And the place about which the grid is too coarse to tell; null: it does. */
function leastCost(
  components: readonly Pick<RateComponent, 'weight'>[],
  curves: readonly CostCycle[],
  grid: Float64Array,
): { interval: CostLeastInterval; sharpAt: number | null } {
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
  const days = best.atEnd ? null : best.days;
  const interval = { days, costPerDay: best.value, costPerDayOf, cycleDaysOf };
  return { interval, sharpAt: best.sharp ? best.index : null };
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
  let scale = 0;
  for (let k = 0; k < components.length; k++)
    scale += (components[k]!.weight / interval.cycleDaysOf[k]!) * costs.visit;
  const on = (days: Float64Array): Low | null => {
    const total = freshRow(days.length);
    components.forEach((component, k) => {
      const share = component.weight / interval.cycleDaysOf[k]!;
      const perDay = interval.costPerDayOf[k]!;
      const dear = costs.pastDearLimit > 0 ? component.passage(limits.dearLimit) : null;
      const curve = costCycle(component.passage(limits.eventLimit), dear, days, ageDays, costs);
      for (let i = 0; i < days.length; i++) total[i]! += share * (curve.cost[i]! - perDay * curve.time[i]!);
    });
    return chosenLow(
      days,
      total,
      interval.days === null ? null : Math.max(0, interval.days - ageDays),
      scale,
    );
  };
  const low = on(grid);
  const found = low?.sharp ? on(finerAround(grid, low.index)) : low;
  return found?.days ?? (interval.days === null ? null : Math.max(0, interval.days - ageDays));
}

/** A low point of a curve. */
interface Low {
  index: number;
  days: number;
  /** The curve bends too sharply there for the grid. */
  sharp: boolean;
}

/** The low point nearest to an aim; without an aim the last, none where the curve falls to its end. */
function chosenLow(grid: Float64Array, total: Float64Array, aim: number | null, scale: number): Low | null {
  if (aim === null && fallsAtEnd(total)) return null;
  const found = lows(grid, total, scale);
  if (aim === null) return found.at(-1) ?? null;
  const [first = null, ...others] = found;
  return others.reduce(
    (nearest, low) =>
      nearest !== null && Math.abs(nearest.days - aim) <= Math.abs(low.days - aim) ? nearest : low,
    first,
  );
}

/** The least of a curve; at the end when nothing before is less than the end by more than rounding. */
function leastOf(grid: Float64Array, value: Float64Array) {
  let index = 0;
  for (let i = 1; i < value.length; i++) if (value[i]! < value[index]!) index = i;
  const last = value.length - 1;
  const atEnd = value[last]! - value[index]! <= NO_GAIN * Math.abs(value[last]!);
  return { index, atEnd, ...bottomAt(grid, value, index, Math.abs(value[index]!)) };
}

/** The low points of a curve before its end, first to last. */
function lows(grid: Float64Array, value: Float64Array, scale: number): Low[] {
  const found: Low[] = [];
  for (let i = 0; i < value.length - 1; i++) {
    const cameUp = i > 0 && value[i]! >= value[i - 1]!;
    const goesDown = value[i + 1]! - value[i]! <= NO_GAIN * Math.abs(value[i + 1]!);
    if (!cameUp && !goesDown) found.push({ index: i, ...bottomAt(grid, value, i, scale) });
  }
  return found;
}

function fallsAtEnd(value: Float64Array): boolean {
  const last = value.length - 1;
  return value[last]! - value[last - 1]! <= NO_GAIN * Math.abs(value[last]!);
}

/** A saving smaller than this share is rounding, not a reason to go. */
const NO_GAIN = 1e-6;
/** A parabola that goes deeper below the points of the grid than this share of what a visit or a day costs is not believed. */
const TOO_DEEP = 0.02;

/**
 * Where the parabola through a point and its neighbours is least. Beyond a sharp corner the next point has the price of a plug, and the
 * parabola would lie far below the curve: there the point itself stands.
 */
function bottomAt(
  grid: Float64Array,
  value: Float64Array,
  index: number,
  scale: number,
): { days: number; value: number; sharp: boolean } {
  const here = value[index]!;
  const left = value[index - 1];
  const right = value[index + 1];
  if (left === undefined || right === undefined || left === Infinity)
    return { days: grid[index]!, value: here, sharp: false };
  const back = grid[index]! - grid[index - 1]!;
  const on = grid[index + 1]! - grid[index]!;
  const slopeBack = (here - left) / back;
  const bend = ((right - here) / on - slopeBack) / (back + on);
  const shift = bend > 0 ? -(slopeBack + bend * back) / (2 * bend) : 0;
  const depth = bend * shift * shift;
  if (depth > TOO_DEEP * scale) return { days: grid[index]!, value: here, sharp: true };
  return { days: grid[index]! + shift, value: here - depth, sharp: false };
}

/** Steps of the finer grid in one of the coarse one. */
const FINER = 8;
const finerGrids = new WeakMap<Float64Array, Map<number, Float64Array>>();

/** The grid with more days about one of its places; the same array each time. */
function finerAround(grid: Float64Array, index: number): Float64Array {
  const known = finerGrids.get(grid) ?? new Map<number, Float64Array>();
  finerGrids.set(grid, known);
  const held = known.get(index);
  if (held) return held;
  const days = [...grid].flatMap((day, i) => {
    const near = i === index - 1 || i === index;
    const step = near ? (grid[i + 1]! - day) / FINER : 0;
    return near ? Array.from({ length: FINER }, (_, k) => day + k * step) : [day];
  });
  const made = Float64Array.from(days);
  known.set(index, made);
  return made;
}
