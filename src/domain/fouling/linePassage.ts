import { cleanedPassages } from './cleanedPassage.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS, STEP } from './grid.js';
import { levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import type { FirstPassage, RateComponent } from './passage.js';
import {
  addChances,
  asChances,
  atAllDays,
  type DaysAhead,
  daysAhead,
  NODES,
  passageFrom,
  SPARSE,
} from './passageTable.js';

/** A line's passages of any limit, whole and by rate; each limit is worked out once, when first asked for. */
export interface LinePassages {
  passage(limit: number): FirstPassage;
  components: readonly RateComponent[];
}

export function linePassages(beliefs: readonly LineBelief[], asOfDay: number): LinePassages {
  const cells = rateCells(beliefs);
  const spans = cells.map(({ span }) => span);
  const states = once(() => beliefs.map((belief) => presentState(belief, spans, asOfDay)));
  const tablesOf = oncePerLimit((limit) => once(() => chanceTables(states(), spans.length, limit)));
  const cleanedOf = oncePerLimit((limit) => cleanedPassages(beliefs, spans, limit, asOfDay));
  return {
    passage: (limit) => passageFrom(() => tablesOf(limit)().line),
    components: cells.map(({ weight, ratePerDay }, k) => ({
      weight,
      ratePerDay,
      passage: (limit) => passageFrom(() => tablesOf(limit)().cells[k]!),
      passageAfterClean: (limit) => cleanedOf(limit)[k]!,
    })),
  };
}

function oncePerLimit<T>(make: (limit: number) => T): (limit: number) => T {
  const held = new Map<number, T>();
  return (limit) => {
    const known = held.get(limit);
    if (known !== undefined) return known;
    const made = make(limit);
    held.set(limit, made);
    return made;
  };
}

function once<T>(make: () => T): () => T {
  let held: T | undefined;
  return () => {
    held ??= make();
    return held;
  };
}

type Span = readonly [from: number, to: number];

const CELLS = 12;

/** Neighbouring rates, taken together until they hold a fair share of the belief; all growth laws in each. */
function rateCells(beliefs: readonly LineBelief[]): { weight: number; ratePerDay: number; span: Span }[] {
  const weight = freshRow(POINTS);
  for (const belief of beliefs) for (let g = 0; g < POINTS; g++) weight[g] = weight[g]! + belief.weight[g]!;
  const total = weight.reduce((sum, w) => sum + w, 0);
  const cells: { weight: number; ratePerDay: number; span: Span }[] = [];
  let from = 0;
  let held = 0;
  let passedBy = 0;
  let moment = 0;
  for (let g = 0; g < POINTS; g++) {
    held += weight[g]!;
    moment += weight[g]! * LOG_RATES[g]!;
    passedBy += weight[g]!;
    const last = total - passedBy < 0.2 / CELLS;
    if (held <= 0 || (held < total / CELLS && g < POINTS - 1) || (last && g < POINTS - 1)) continue;
    cells.push({ weight: held / total, ratePerDay: Math.exp(moment / held), span: [from, g + 1] });
    from = g + 1;
    held = 0;
    moment = 0;
  }
  return cells;
}

/** Chances by the days of `AHEAD`, of the line and of each cell of rates. */
interface ChanceTables {
  line: Float64Array;
  cells: Float64Array[];
}

/** The cells keep their rates; the line as a whole may also change its regime. */
function chanceTables(states: readonly PresentState[], cellCount: number, limit: number): ChanceTables {
  const cells = Array.from({ length: cellCount }, () => freshRow(NODES.length));
  const changed = freshRow(SPARSE.length);
  const weights = freshRow(cellCount);
  for (const state of states) {
    addKept(cells, weights, state, limit);
    addChanged(changed, state, limit);
  }
  const kept = freshRow(NODES.length);
  let total = 0;
  cells.forEach((cell, k) => {
    total += weights[k]!;
    for (let d = 0; d < kept.length; d++) kept[d] = kept[d]! + cell[d]!;
  });
  const line = atAllDays(kept, NODES);
  const afterChange = atAllDays(changed, SPARSE);
  const share = states[0]?.aheadAll.changed;
  for (let d = 0; d < line.length; d++) line[d] = line[d]! + (share?.[d] ?? 0) * (afterChange[d]! - line[d]!);
  return {
    line: asChances(line, total),
    cells: cells.map((cell, k) => asChances(atAllDays(cell, NODES), weights[k]!)),
  };
}

/** Adds the chances from the line's present states, as they are, to the cells' tables, and their weights. */
function addKept(
  cells: readonly Float64Array[],
  weights: Float64Array,
  { belief, ahead, points }: PresentState,
  limit: number,
): void {
  const limitY = levelToY(belief.shape, limit);
  for (let p = 0; p < points.count; p++) {
    const cell = points.cell[p]!;
    const weight = points.weight[p]!;
    weights[cell] = weights[cell]! + weight;
    addChances(
      cells[cell]!,
      weight,
      points.level[p]! - limitY,
      points.variance[p]!,
      points.rate[p]!,
      ahead,
      points.rateSpread[p]!,
      points.levelSpread[p]!,
    );
  }
}

/** A changed rate is known so roughly that some points of the grid may be taken together. */
const CHANGED_STEP = 4;

/** Adds the chances from the line's mean level at the rates it may have after a change, weighing as much as those kept. */
function addChanged(
  out: Float64Array,
  { belief, total, meanLevel, meanVariance, aheadSparse }: PresentState,
  limit: number,
): void {
  const { changedWeight, shape } = belief;
  const start = meanLevel - levelToY(shape, limit);
  let changed = 0;
  for (let g = 0; g < POINTS; g++) changed += changedWeight[g]!;
  if (changed <= 0) return;
  for (let from = 0; from < POINTS; from += CHANGED_STEP) {
    let [weight, first, second] = [0, 0, 0];
    for (let k = 0; k < CHANGED_STEP && from + k < POINTS; k++) {
      const w = changedWeight[from + k]!;
      weight += w;
      first += w * k * STEP;
      second += w * k * k * STEP * STEP;
    }
    if (weight <= 0) continue;
    const middle = first / weight;
    const spread = Math.sqrt(Math.max(0, second / weight - middle * middle));
    const rate = Math.exp(LOG_RATES[from]! + middle);
    addChances(out, (weight * total) / changed, start, meanVariance, rate, aheadSparse, spread);
  }
}

/** A belief's levels as they grow: straight with time, whatever the limit asked. */
interface PresentState {
  belief: LineBelief;
  /** At NODES, at SPARSE and at all days. */
  ahead: DaysAhead;
  aheadSparse: DaysAhead;
  aheadAll: DaysAhead;
  points: StatePoints;
  /** Over all rates. */
  total: number;
  meanLevel: number;
  meanVariance: number;
}

/** Rates that stand for the belief, and its level at each. */
interface StatePoints {
  count: number;
  weight: Float64Array;
  rate: Float64Array;
  level: Float64Array;
  variance: Float64Array;
  /** Of the log rates it stands for, and how the level goes with them: see `addChances`. */
  rateSpread: Float64Array;
  levelSpread: Float64Array;
  /** Cell of rates to which it belongs. */
  cell: Uint8Array;
}

/** Neighbouring rates are taken together: two of little weight, four of hardly any. */
const LITTLE_WEIGHT = 0.005;
const HARDLY_ANY_WEIGHT = 0.001;

const standsAlone = (weight: number, count: number): boolean =>
  count >= (weight < HARDLY_ANY_WEIGHT ? 4 : weight < LITTLE_WEIGHT ? 2 : 1);

const NOTHING_HELD = {
  count: 0,
  weight: 0,
  logRate: 0,
  logRates: 0,
  level: 0,
  levels: 0,
  both: 0,
  variance: 0,
};

function presentState(belief: LineBelief, spans: readonly Span[], asOfDay: number): PresentState {
  const { shape, parameters, weight, state } = belief;
  const row = (): Float64Array => freshRow(POINTS);
  const points: StatePoints = {
    count: 0,
    weight: row(),
    rate: row(),
    level: row(),
    variance: row(),
    rateSpread: row(),
    levelSpread: row(),
    cell: new Uint8Array(POINTS),
  };
  let total = 0;
  let first = 0;
  let second = 0;
  spans.forEach(([from, to], cell) => {
    const held = { ...NOTHING_HELD };
    for (let g = from; g < to; g++) {
      const w = weight[g]!;
      if (w > 0) {
        const y = levelToY(shape, state.mean[g]!);
        const slope = slopeAt(shape, state.mean[g]!);
        const away = (g - from) * STEP;
        held.count++;
        held.weight += w;
        held.logRate += w * away;
        held.logRates += w * away * away;
        held.level += w * y;
        held.levels += w * y * y;
        held.both += w * away * y;
        held.variance += (w * state.variance[g]!) / (slope * slope);
      }
      if (held.count === 0 || (g < to - 1 && !standsAlone(held.weight, held.count))) continue;
      const p = points.count++;
      const logRate = held.logRate / held.weight;
      const level = held.level / held.weight;
      const spread = Math.sqrt(Math.max(0, held.logRates / held.weight - logRate * logRate));
      points.cell[p] = cell;
      points.weight[p] = held.weight;
      points.rate[p] = Math.exp(LOG_RATES[from]! + logRate);
      points.level[p] = level;
      points.variance[p] = held.variance / held.weight;
      points.rateSpread[p] = spread;
      points.levelSpread[p] = spread > 1e-6 ? (held.both / held.weight - logRate * level) / spread : 0;
      total += held.weight;
      first += held.level;
      second += held.levels + held.variance;
      Object.assign(held, NOTHING_HELD);
    }
  });
  const meanLevel = first / total;
  return {
    belief,
    ahead: daysAhead(parameters, asOfDay, NODES),
    aheadSparse: daysAhead(parameters, asOfDay, SPARSE),
    aheadAll: daysAhead(parameters, asOfDay),
    points,
    total,
    meanLevel,
    meanVariance: Math.max(1e-9, second / total - meanLevel * meanLevel),
  };
}
