import { POINTS, RATES } from './grid.js';
import { type GrowthShape, levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import type { FirstPassage } from './passage.js';
import { AHEAD, addChances, asChances, daysAhead, passageFrom, readAt } from './passageTable.js';
import type { ShapeParameters } from './shapeParameters.js';

/** First passage from the day after a clean, for the rates `from` to `to` of the grid. */
export function cleanedPassage(
  beliefs: readonly LineBelief[],
  span: readonly [from: number, to: number],
  limit: number,
  asOfDay: number,
): FirstPassage {
  const chancesAt = (days: Float64Array): Float64Array => {
    const chances = new Float64Array(days.length);
    let total = 0;
    for (const belief of beliefs) total += addCleaned(chances, belief, span, asOfDay, limit, days);
    return asChances(chances, total);
  };
  return passageFrom(() => chancesAt(AHEAD), chancesAt);
}

/** Adds the belief's weighted chances by some days after a clean; returns their weight. */
function addCleaned(
  out: Float64Array,
  belief: LineBelief,
  [from, to]: readonly [number, number],
  asOfDay: number,
  limit: number,
  days: Float64Array,
): number {
  const rows = cleanedRows(belief, asOfDay, limit, days);
  let total = 0;
  for (let g = from; g < to; g++) {
    const weight = belief.weight[g]!;
    if (weight <= 0) continue;
    total += weight;
    const row = rows[g] ?? cleanedRow(belief, RATES[g]!, asOfDay, limit, days);
    rows[g] = row;
    for (let d = 0; d < out.length; d++) out[d] = out[d]! + weight * row[d]!;
  }
  return total;
}

/** Chances by some days at each rate of the grid, where asked for already. */
type Rows = (Float64Array | undefined)[];

/** After a clean they are the same for every line of a base, so each is worked out once. */
interface HeldRows {
  asOfDay: number;
  /** By limit, then by the array of days. */
  byLimit: Map<number, Map<Float64Array, Rows>>;
}

/** Lines with limits of their own must not fill the memory. */
const LIMITS_KEPT = 64;
const DAYS_KEPT = 4;

const heldRows = new WeakMap<ShapeParameters, WeakMap<GrowthShape, HeldRows>>();

function cleanedRows(
  { parameters, shape }: LineBelief,
  asOfDay: number,
  limit: number,
  days: Float64Array,
): Rows {
  const ofShapes = heldRows.get(parameters) ?? new WeakMap<GrowthShape, HeldRows>();
  heldRows.set(parameters, ofShapes);
  let held = ofShapes.get(shape);
  if (held?.asOfDay !== asOfDay) {
    held = { asOfDay, byLimit: new Map() };
    ofShapes.set(shape, held);
  }
  if (held.byLimit.size >= LIMITS_KEPT && !held.byLimit.has(limit)) held.byLimit.clear();
  const ofLimit = held.byLimit.get(limit) ?? new Map<Float64Array, Rows>();
  held.byLimit.set(limit, ofLimit);
  if (ofLimit.size >= DAYS_KEPT && !ofLimit.has(days)) ofLimit.clear();
  const rows = ofLimit.get(days) ?? new Array<Float64Array | undefined>(POINTS);
  ofLimit.set(days, rows);
  return rows;
}

function cleanedRow(
  { shape, parameters }: LineBelief,
  rate: number,
  asOfDay: number,
  limit: number,
  days: Float64Array,
): Float64Array {
  const { residualMean, residualSd } = parameters;
  const slope = slopeAt(shape, residualMean);
  const variance = (residualSd * residualSd) / (slope * slope);
  const chances = new Float64Array(AHEAD.length);
  const start = levelToY(shape, residualMean) - levelToY(shape, limit);
  addChances(chances, 1, start, variance, rate, daysAhead(parameters, asOfDay));
  return days === AHEAD ? chances : readAt(chances, days);
}
