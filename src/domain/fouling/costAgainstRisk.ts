import type { OwnerSettings } from '../work/settings.js';
import { type CostCycle, costCycle, costGrid, type LineCosts } from './costCycle.js';
import { leastCostOf } from './costLeast.js';
import { type FirstPassage, type RateComponent, yearlyRiskDays } from './passage.js';

export interface CurveLine {
  components: readonly RateComponent[];
  limits: { action: number; plug: number };
  costs: LineCosts;
}

/** A line of a system with what else holds for it. */
export interface RuledLine extends CurveLine {
  /** The yearly risk that today's settings allow it. */
  ownRisk: number;
  /** The longest interval that the rules beside risk and cost leave it: hardening, terms, first intervals, growth; null: none. */
  capDays: number | null;
}

/** What serving the whole base by one rule would take, per line and year, in the unit of the costs. */
export interface CurvePoint {
  /** Each of the first two as if it alone held, every line a visit of its own; the others with all rules in force. */
  rule: 'yearly_risk' | 'cost_least' | 'all_rules' | 'today';
  /** Yearly chance of plugging a line may run; null for the cost-least rule, and for today's, where each line has its own. */
  risk: number | null;
  medianIntervalDays: number;
  visitsPerLineYear: number;
  plugsPerLineYear: number;
  costPerLineYear: number;
}

/**
 * Curve of cost against risk for the owner: each risk as if it were the only rule, and the cost-least rule beside.
 *
 * Every line is served for ever at the interval its rule gives as of today, and each rate it may have counts by
 * the belief. What later visits will teach is left out, so little-known lines look dearer than they will be.
 * First intervals, care terms and closed seasons are left out too; the least and the longest interval hold.
 *
 * With all rules in force a line is visited at the earliest of risk, cost and its cap, all lines of a system together
 * at the earliest of theirs, and each bears its part of the visit.
 */
export function costAgainstRisk(
  lines: readonly CurveLine[],
  risks: readonly number[],
  settings: Pick<OwnerSettings, 'intervals'>,
): CurvePoint[] {
  const curve = riskCurve(risks, settings);
  for (const line of lines) curve.add(line);
  return curve.points();
}

export interface RiskCurve {
  /** A line by itself: counts for the single rules alone. */
  add(line: CurveLine): void;
  /** Lines of one system. @param sharedBy How many lines share a visit, those not given among them. */
  addSystem(lines: readonly RuledLine[], sharedBy: number): void;
  /** Means over the lines so far. */
  points(): CurvePoint[];
}

/** The same line by line, for whoever must not reckon for long at a stretch. */
export function riskCurve(
  risks: readonly number[],
  { intervals }: Pick<OwnerSettings, 'intervals'>,
): RiskCurve {
  const grid = costGrid(intervals.maxDays, CURVE_RATIO);
  const alone = [...risks, null].map((risk) => newSum(risk === null ? 'cost_least' : 'yearly_risk', risk));
  const ruled = [...risks, null].map((risk) => newSum(risk === null ? 'today' : 'all_rules', risk));
  const within = (days: number): number => Math.min(intervals.maxDays, Math.max(intervals.minDays, days));
  const read = ({ components, limits, costs }: CurveLine) => {
    const rates = components.map((component) => {
      const plug = component.passageAfterClean(limits.plug);
      const cycle = costCycle(plug, component.passageAfterClean(limits.action), grid, 0, costs);
      return { weight: component.weight, plug, cycle };
    });
    const mixed = mixedPassage(rates);
    const least = within(
      leastCostOf(
        components,
        rates.map(({ cycle }) => cycle),
        grid,
      ).days ?? intervals.maxDays,
    );
    const byRisk = (risk: number): number =>
      within(yearlyRiskDays(mixed, risk, 0, intervals.minDays) ?? intervals.maxDays);
    return { rates, least, byRisk };
  };
  const count = (sum: Sum, { rates }: ReturnType<typeof read>, days: number, sharedBy: number): void => {
    sum.days.push(days);
    for (const { weight, cycle } of rates) {
      const year = yearAt(cycle, grid, days);
      sum.visits += weight * year.visits;
      sum.plugs += weight * year.plugs;
      // A visit costs 1: the others that share it bear the rest.
      sum.cost += weight * (year.cost - year.visits * (1 - 1 / sharedBy));
    }
  };
  const countAlone = (line: ReturnType<typeof read>): void => {
    for (const sum of alone) count(sum, line, sum.risk === null ? line.least : line.byRisk(sum.risk), 1);
  };
  return {
    add: (line) => countAlone(read(line)),
    addSystem(lines, sharedBy) {
      const all = lines.map((line) => ({ line, read: read(line) }));
      for (const each of all) countAlone(each.read);
      for (const sum of ruled) {
        const days = Math.min(
          ...all.map(({ line: { ownRisk, capDays }, read: { byRisk, least } }) =>
            Math.min(byRisk(sum.risk ?? ownRisk), least, capDays ?? Infinity),
          ),
        );
        for (const each of all) count(sum, each.read, Math.max(1, days), Math.max(sharedBy, lines.length));
      }
    },
    points: () => [...alone, ...ruled.filter(({ days }) => days.length > 0)].map(pointOf),
  };
}

interface Sum {
  rule: CurvePoint['rule'];
  risk: number | null;
  days: number[];
  visits: number;
  plugs: number;
  cost: number;
}

const newSum = (rule: CurvePoint['rule'], risk: number | null): Sum => ({
  rule,
  risk,
  days: [],
  visits: 0,
  plugs: 0,
  cost: 0,
});

function pointOf({ rule, risk, days, visits, plugs, cost }: Sum): CurvePoint {
  const count = Math.max(1, days.length);
  return {
    rule,
    risk,
    medianIntervalDays: median(days),
    visitsPerLineYear: visits / count,
    plugsPerLineYear: plugs / count,
    costPerLineYear: cost / count,
  };
}

/** Of a line whose rate is not known for sure; every risk asks for the same days, so each is reckoned once. */
function mixedPassage(rates: readonly { weight: number; plug: FirstPassage }[]) {
  const held = new Map<number, number>();
  return {
    horizonDays: Math.min(...rates.map(({ plug }) => plug.horizonDays)),
    chanceBy: (days: number): number => {
      const known = held.get(days);
      if (known !== undefined) return known;
      const chance = rates.reduce((sum, { weight, plug }) => sum + weight * plug.chanceBy(days), 0);
      held.set(days, chance);
      return chance;
    },
  };
}

/** Finer than the night's grid: the curve is read between its days. */
const CURVE_RATIO = 1.1;

function yearAt({ cost, time, passed }: CostCycle, grid: Float64Array, days: number) {
  const at = (curve: Float64Array): number => between(grid, curve, days);
  // What is past the limit as soon as it was cleaned is still not visited more than once a day.
  const cyclesPerYear = 365.25 / Math.max(1, at(time));
  const past = at(passed);
  return { visits: (1 - past) * cyclesPerYear, plugs: past * cyclesPerYear, cost: at(cost) * cyclesPerYear };
}

function between(grid: Float64Array, curve: Float64Array, days: number): number {
  let right = 1;
  while (right < grid.length - 1 && grid[right]! < days) right++;
  const share = (days - grid[right - 1]!) / (grid[right]! - grid[right - 1]!);
  return curve[right - 1]! + share * (curve[right]! - curve[right - 1]!);
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  const high = sorted[half] ?? 0;
  return sorted.length % 2 === 1 ? high : (high + (sorted[half - 1] ?? 0)) / 2;
}
