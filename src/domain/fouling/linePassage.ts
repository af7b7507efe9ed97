import { cleanedChances } from './cleanedPassage.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS, RATES, STEP } from './grid.js';
import { type GrowthShape, levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import type { FirstPassage, RateComponent } from './passage.js';
import {
  AHEAD,
  addRise,
  asChances,
  betweenDays,
  type DaysAhead,
  daysAhead,
  NODES,
  noChances,
  noPoints,
  noRise,
  riseOf,
  SPARSE,
  type StatePoints,
  summed,
  TablePassage,
} from './passageTable.js';

/** A line's passages of any limit, whole and by rate; each limit is worked out once, when first asked for. */
export class LinePassages {
  readonly components: readonly RateComponent[];
  readonly asOfDay: number;
  protected readonly beliefs: readonly LineBelief[];
  private readonly spans: readonly Span[];
  private readonly limits: OfLimit[] = [];
  private held: PresentState[] | null = null;

  constructor(beliefs: readonly LineBelief[], asOfDay: number) {
    this.beliefs = beliefs;
    this.asOfDay = asOfDay;
    const cells = rateCells(beliefs);
    this.spans = cells.map(({ span }) => span);
    this.components = cells.map(({ weight, ratePerDay }, k) => new Cell(this, k, weight, ratePerDay));
  }

  /** Bound to its line, for it is handed on alone. */
  readonly passage = (limit: number): FirstPassage => this.ofLimit(limit).whole;

  ofLimit(limit: number): OfLimit {
    for (const held of this.limits) if (held.limit === limit) return held;
    const made = new OfLimit(this, limit);
    this.limits.push(made);
    return made;
  }

  chances(limit: number): ChanceTables {
    this.held ??= this.beliefs.map((belief) => presentState(belief, this.spans, this.asOfDay));
    return chanceTables(this.held, this.spans.length, limit);
  }

  cleanedBy(limit: number, days: Float64Array): Float64Array[] {
    return cleanedChances(this.beliefs, this.spans, limit, this.asOfDay, days);
  }
}

/** What is known of a line's passages of one limit. */
class OfLimit {
  readonly limit: number;
  readonly whole: FirstPassage;
  private readonly line: LinePassages;
  private held: ChanceTables | null = null;
  private cleaned: { days: Float64Array; chances: Float64Array[] }[] = [];
  private readonly cells: (FirstPassage | undefined)[] = [];
  private readonly cleanedCells: (FirstPassage | undefined)[] = [];

  constructor(line: LinePassages, limit: number) {
    this.line = line;
    this.limit = limit;
    this.whole = new WholePassage(this);
  }

  tables(): ChanceTables {
    this.held ??= this.line.chances(this.limit);
    return this.held;
  }

  /** Of each cell. */
  cleanedBy(days: Float64Array): Float64Array[] {
    for (const held of this.cleaned) if (held.days === days) return held.chances;
    const chances = this.line.cleanedBy(this.limit, days);
    this.cleaned.push({ days, chances });
    return chances;
  }

  cell(k: number): FirstPassage {
    this.cells[k] ??= new CellPassage(this, k);
    return this.cells[k];
  }

  cleanedCell(k: number): FirstPassage {
    this.cleanedCells[k] ??= new CleanedCellPassage(this, k);
    return this.cleanedCells[k];
  }
}

class WholePassage extends TablePassage {
  private readonly of: OfLimit;

  constructor(of: OfLimit) {
    super();
    this.of = of;
  }

  protected tabulate(): Float64Array {
    return this.of.tables().line;
  }
}

/** One cell's passages, told by any days. */
abstract class OfCell extends TablePassage {
  protected readonly of: OfLimit;
  protected readonly k: number;

  constructor(of: OfLimit, k: number) {
    super();
    this.of = of;
    this.k = k;
  }

  abstract override chancesBy(days: Float64Array): Float64Array;

  protected tabulate(): Float64Array {
    return this.chancesBy(AHEAD);
  }
}

class CellPassage extends OfCell {
  override chancesBy(days: Float64Array): Float64Array {
    const { cells, weights } = this.of.tables();
    return asChances(betweenDays(cells[this.k]!, NODES, days), weights[this.k]!);
  }
}

class CleanedCellPassage extends OfCell {
  override chancesBy(days: Float64Array): Float64Array {
    return this.of.cleanedBy(days)[this.k]!;
  }
}

/** Neighbouring rates of a line. */
class Cell implements RateComponent {
  readonly weight: number;
  readonly ratePerDay: number;
  private readonly line: LinePassages;
  private readonly k: number;

  constructor(line: LinePassages, k: number, weight: number, ratePerDay: number) {
    this.line = line;
    this.k = k;
    this.weight = weight;
    this.ratePerDay = ratePerDay;
  }

  passage(limit: number): FirstPassage {
    return this.line.ofLimit(limit).cell(this.k);
  }

  passageAfterClean(limit: number): FirstPassage {
    return this.line.ofLimit(limit).cleanedCell(this.k);
  }
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

interface ChanceTables {
  /** Chances of the line by the days of AHEAD. */
  line: Float64Array;
  /** Weighted chances of each cell of rates by the days of NODES, and what each cell weighs. */
  cells: Float64Array[];
  weights: Float64Array;
}

/** The cells keep their rates; the line as a whole may also change its regime, under each law by its own hazard. */
function chanceTables(states: readonly PresentState[], cellCount: number, limit: number): ChanceTables {
  const cells = Array.from({ length: cellCount }, () => noChances(NODES.length));
  const weights = freshRow(cellCount);
  const line = freshRow(NODES.length);
  for (const { shape, kept, ahead, afterChange, aheadSparse } of states) {
    const limitY = levelToY(shape, limit);
    const whole = noChances(NODES.length);
    rise.from = 0;
    for (let p = 0; p < kept.count; p++) {
      const weight = kept.weight[p]!;
      const cell = kept.cell[p]!;
      riseOf(rise, kept, p, limitY, ahead);
      addRise(cells[cell]!, rise, weight);
      addRise(whole, rise, weight);
      weights[cell] = weights[cell]! + weight;
    }
    const changed = noChances(SPARSE.length);
    rise.from = 0;
    for (let p = 0; p < afterChange.count; p++) {
      riseOf(rise, afterChange, p, limitY, aheadSparse);
      addRise(changed, rise, afterChange.weight[p]!);
    }
    const now = summed(whole);
    const later = betweenDays(summed(changed), SPARSE, NODES);
    for (let d = 0; d < line.length; d++)
      line[d] = line[d]! + now[d]! + ahead.changed[d]! * (later[d]! - now[d]!);
  }
  let total = 0;
  for (let k = 0; k < cellCount; k++) total += weights[k]!;
  return { line: asChances(betweenDays(line, NODES, AHEAD), total), cells: cells.map(summed), weights };
}

const rise = noRise();

/** A belief's levels as they grow: straight with time, whatever the limit asked. */
interface PresentState {
  shape: GrowthShape;
  /** At NODES and at SPARSE. */
  ahead: DaysAhead;
  aheadSparse: DaysAhead;
  kept: StatePoints;
  /** Should the rate change: weighs as much. */
  afterChange: StatePoints;
}

function presentState(belief: LineBelief, spans: readonly Span[], asOfDay: number): PresentState {
  const { shape, parameters } = belief;
  const kept = keptPoints(belief, spans);
  return {
    shape,
    ahead: daysAhead(parameters, asOfDay, NODES),
    aheadSparse: daysAhead(parameters, asOfDay, SPARSE),
    kept,
    afterChange: changedPoints(belief, kept),
  };
}

/** Neighbouring rates are taken together: two of little weight, four of hardly any. */
const LITTLE_WEIGHT = 0.005;
const HARDLY_ANY_WEIGHT = 0.001;

const standsAlone = (weight: number, count: number): boolean =>
  count >= (weight < HARDLY_ANY_WEIGHT ? 4 : weight < LITTLE_WEIGHT ? 2 : 1);

function keptPoints(belief: LineBelief, spans: readonly Span[]): StatePoints {
  const points = noPoints(POINTS);
  for (let cell = 0; cell < spans.length; cell++) {
    const [from, to] = spans[cell]!;
    let start = from;
    let weight = 0;
    let count = 0;
    for (let g = from; g < to; g++) {
      weight += belief.weight[g]!;
      if (belief.weight[g]! > 0) count++;
      if (g < to - 1 && !standsAlone(weight, count)) continue;
      if (weight > 0) takeTogether(points, belief, start, g + 1, cell);
      start = g + 1;
      weight = 0;
      count = 0;
    }
  }
  return points;
}

/** One point for the rates `from` to `to`. */
function takeTogether(
  points: StatePoints,
  { shape, weight, state, lag }: LineBelief,
  from: number,
  to: number,
  cell: number,
): void {
  let total = 0;
  let logRate = 0;
  let logRates = 0;
  let level = 0;
  let both = 0;
  let variance = 0;
  for (let g = from; g < to; g++) {
    const w = weight[g]!;
    if (w <= 0) continue;
    const away = (g - from) * STEP;
    const y = levelToY(shape, state.mean[g]!) - lag.days * RATES[g]!;
    const slope = slopeAt(shape, state.mean[g]!);
    total += w;
    logRate += w * away;
    logRates += w * away * away;
    level += w * y;
    both += w * away * y;
    variance += w * (state.variance[g]! / (slope * slope) + lag.variance * RATES[g]! * RATES[g]!);
  }
  logRate /= total;
  level /= total;
  const spread = Math.sqrt(Math.max(0, logRates / total - logRate * logRate));
  const p = points.count++;
  points.cell[p] = cell;
  points.weight[p] = total;
  points.rate[p] = Math.exp(LOG_RATES[from]! + logRate);
  points.level[p] = level;
  points.variance[p] = variance / total;
  points.rateSpread[p] = spread;
  points.levelSpread[p] = spread > 1e-6 ? (both / total - logRate * level) / spread : 0;
}

/** A changed rate is known so roughly that some points of the grid may be taken together. */
const CHANGED_STEP = 4;

/** The rates the line may have after a change, from its mean level. */
function changedPoints({ changedWeight }: LineBelief, kept: StatePoints): StatePoints {
  const points = noPoints(POINTS);
  let total = 0;
  let first = 0;
  let second = 0;
  for (let p = 0; p < kept.count; p++) {
    const weight = kept.weight[p]!;
    const level = kept.level[p]!;
    total += weight;
    first += weight * level;
    second += weight * (level * level + kept.levelSpread[p]! * kept.levelSpread[p]! + kept.variance[p]!);
  }
  let changed = 0;
  for (let g = 0; g < POINTS; g++) changed += changedWeight[g]!;
  if (changed <= 0) return points;
  const level = first / total;
  const variance = Math.max(1e-9, second / total - level * level);
  for (let from = 0; from < POINTS; from += CHANGED_STEP) {
    let weight = 0;
    let logRate = 0;
    let logRates = 0;
    for (let g = from; g < Math.min(POINTS, from + CHANGED_STEP); g++) {
      const away = (g - from) * STEP;
      weight += changedWeight[g]!;
      logRate += changedWeight[g]! * away;
      logRates += changedWeight[g]! * away * away;
    }
    if (weight <= 0) continue;
    logRate /= weight;
    const p = points.count++;
    points.weight[p] = (weight * total) / changed;
    points.rate[p] = Math.exp(LOG_RATES[from]! + logRate);
    points.rateSpread[p] = Math.sqrt(Math.max(0, logRates / weight - logRate * logRate));
    points.level[p] = level;
    points.variance[p] = variance;
    points.levelSpread[p] = 0;
    points.cell[p] = 0;
  }
  return points;
}
