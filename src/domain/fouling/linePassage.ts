import { cleanedPassage } from './cleanedPassage.js';
import { LOG_RATES, POINTS, RATES } from './grid.js';
import { levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import type { FirstPassage, RateComponent } from './passage.js';
import { AHEAD, addChances, asChances, type DaysAhead, daysAhead, passageFrom } from './passageTable.js';

/** A line's passages of any limit, whole and by rate; each limit is worked out once, when first asked for. */
export interface LinePassages {
  passage(limit: number): FirstPassage;
  components: readonly RateComponent[];
}

export function linePassages(beliefs: readonly LineBelief[], asOfDay: number): LinePassages {
  const cells = rateCells(beliefs);
  const spans = cells.map(({ span }) => span);
  const states = once(() => beliefs.map((belief) => presentState(belief, asOfDay)));
  const tables = new Map<number, () => ChanceTables>();
  const tablesOf = (limit: number): (() => ChanceTables) => {
    const held = tables.get(limit);
    if (held) return held;
    const made = once(() => chanceTables(states(), spans, limit));
    tables.set(limit, made);
    return made;
  };
  return {
    passage: (limit) => passageFrom(() => tablesOf(limit)().line),
    components: cells.map(({ weight, ratePerDay, span }, k) => ({
      weight,
      ratePerDay,
      passage: (limit) => passageFrom(() => tablesOf(limit)().cells[k]!),
      passageAfterClean: (limit) => cleanedPassage(beliefs, span, limit, asOfDay),
    })),
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
  const weight = new Float64Array(POINTS);
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

/** A changed rate is known so roughly that every third point of the grid will do. */
const CHANGED_STEP = 3;

/** The cells keep their rates; the line as a whole may also change its regime. */
function chanceTables(states: readonly PresentState[], spans: readonly Span[], limit: number): ChanceTables {
  const line = new Float64Array(AHEAD.length);
  const cells = spans.map(() => new Float64Array(AHEAD.length));
  const weights = new Float64Array(spans.length);
  const kept = new Float64Array(AHEAD.length);
  const changed = new Float64Array(AHEAD.length);
  let total = 0;
  for (const state of states) {
    kept.fill(0);
    changed.fill(0);
    const keptWeight = addKept(kept, cells, weights, state, spans, limit);
    const changedWeight = addChanged(changed, state, limit);
    const perChanged = changedWeight > 0 ? keptWeight / changedWeight : 0;
    total += keptWeight;
    for (let d = 0; d < line.length; d++) {
      const share = perChanged > 0 ? state.ahead.changed[d]! : 0;
      line[d] = line[d]! + (1 - share) * kept[d]! + share * perChanged * changed[d]!;
    }
  }
  return { line: asChances(line, total), cells: cells.map((cell, k) => asChances(cell, weights[k]!)) };
}

/** Adds the chances from the line's present states, as they are; returns their weight. */
function addKept(
  kept: Float64Array,
  cells: readonly Float64Array[],
  weights: Float64Array,
  { belief, level, variance, ahead }: PresentState,
  spans: readonly Span[],
  limit: number,
): number {
  const limitY = levelToY(belief.shape, limit);
  const own = new Float64Array(AHEAD.length);
  let total = 0;
  for (let k = 0; k < spans.length; k++) {
    const [from, to] = spans[k]!;
    let first = own.length;
    for (let g = from; g < to; g++) {
      const weight = belief.weight[g]!;
      if (weight <= 0) continue;
      const nil = addChances(own, weight, level[g]! - limitY, variance[g]!, RATES[g]!, ahead);
      first = Math.min(first, nil);
      weights[k] = weights[k]! + weight;
      total += weight;
    }
    const cell = cells[k]!;
    for (let d = first; d < own.length; d++) {
      kept[d] = kept[d]! + own[d]!;
      cell[d] = cell[d]! + own[d]!;
      own[d] = 0;
    }
  }
  return total;
}

/** Adds the chances from the line's mean level at the rates it may have after a change; returns their weight. */
function addChanged(
  out: Float64Array,
  { belief, meanLevel, meanVariance, ahead }: PresentState,
  limit: number,
): number {
  const start = meanLevel - levelToY(belief.shape, limit);
  let total = 0;
  for (let g = 0; g < POINTS; g += CHANGED_STEP) {
    let share = 0;
    for (let k = g; k < Math.min(POINTS, g + CHANGED_STEP); k++) share += belief.changedWeight[k]!;
    if (share <= 0) continue;
    total += share;
    const middle = Math.min(POINTS - 1, g + (CHANGED_STEP >> 1));
    addChances(out, share, start, meanVariance, RATES[middle]!, ahead);
  }
  return total;
}

/** A belief's levels as they grow: straight with time, whatever the limit asked. */
interface PresentState {
  belief: LineBelief;
  ahead: DaysAhead;
  /** At each rate of some weight. */
  level: Float64Array;
  variance: Float64Array;
  /** Over all rates. */
  meanLevel: number;
  meanVariance: number;
}

function presentState(belief: LineBelief, asOfDay: number): PresentState {
  const { shape, weight, state } = belief;
  const level = new Float64Array(POINTS);
  const variance = new Float64Array(POINTS);
  let total = 0;
  let first = 0;
  let second = 0;
  for (let g = 0; g < POINTS; g++) {
    if (weight[g]! <= 0) continue;
    const y = levelToY(shape, state.mean[g]!);
    const slope = slopeAt(shape, state.mean[g]!);
    level[g] = y;
    variance[g] = state.variance[g]! / (slope * slope);
    total += weight[g]!;
    first += weight[g]! * y;
    second += weight[g]! * (y * y + variance[g]!);
  }
  const meanLevel = first / total;
  const meanVariance = Math.max(1e-9, second / total - meanLevel * meanLevel);
  return { belief, ahead: daysAhead(belief.parameters, asOfDay), level, variance, meanLevel, meanVariance };
}
