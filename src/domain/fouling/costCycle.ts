import { rowToFill } from './freshRow.js';
import { chancesBy, type FirstPassage } from './passage.js';

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

/** By ratio, then by the last day. */
const grids = new Map<number, Map<number, Float64Array>>();

/** Days at which costs are compared: 0, then steps that grow by `ratio`, at least a day apart. Not to be written to. */
export function costGrid(maxDays: number, ratio = 1.25): Float64Array {
  const ofRatio = grids.get(ratio) ?? new Map<number, Float64Array>();
  grids.set(ratio, ofRatio);
  const grid = ofRatio.get(maxDays) ?? gridOf(maxDays, ratio);
  ofRatio.set(maxDays, grid);
  return grid;
}

function gridOf(maxDays: number, ratio: number): Float64Array {
  const days = [0];
  for (let at = Math.min(7, maxDays); at < maxDays; at = Math.max(at + 1, at * ratio)) days.push(at);
  days.push(maxDays);
  return Float64Array.from(days);
}

/** Expected cost of one cycle that ends at the visit or at the event before, and its expected length. */
export interface CostCycle {
  cost: Float64Array;
  time: Float64Array;
  /** Chance that the event came before the visit. */
  passed: Float64Array;
}

/**
 * A cycle at every day of the grid, by the deposit's age at its start.
 * @param dear Passage of the limit past which a visit costs more; null when it costs no more.
 */
export function costCycle(
  event: FirstPassage,
  dear: FirstPassage | null,
  grid: Float64Array,
  ageDays: number,
  costs: LineCosts,
): CostCycle {
  const cost = rowToFill(grid.length);
  const time = rowToFill(grid.length);
  time[0] = 0;
  const passed = chancesBy(event, grid);
  const dearPassed = dear === null ? passed : chancesBy(dear, grid);
  let before = 1;
  for (let i = 0; i < grid.length; i++) {
    const days = grid[i]!;
    const past = passed[i]!;
    const open = 1 - past;
    if (i > 0) time[i] = time[i - 1]! + meanOpen(before, open) * (days - grid[i - 1]!);
    before = open;
    const hardenedDays = costs.softDays === null ? 0 : Math.max(0, ageDays + days - costs.softDays);
    const pastDear = Math.max(0, dearPassed[i]! - past);
    cost[i] =
      open * (costs.visit + hardenedDays * costs.hardenedPerDay) +
      pastDear * costs.pastDearLimit +
      past * costs.event;
  }
  return { cost, time, passed };
}

/** Mean share of lines still open over a step, at a steady hazard: exact for a memoryless line on any grid. */
function meanOpen(before: number, after: number): number {
  if (before <= 0) return 0;
  const floor = Math.max(after, before * 1e-9);
  const sum = before + floor;
  const part = (before - floor) / sum;
  const square = part * part;
  // (a − b) / log(a / b) is half the sum times u / artanh(u), u = (a − b) / (a + b).
  if (square < 0.01)
    return (0.5 * sum) / (1 + square * (1 / 3 + square * (1 / 5 + square * (1 / 7 + square / 9))));
  return (before - floor) / Math.log(before / floor);
}
