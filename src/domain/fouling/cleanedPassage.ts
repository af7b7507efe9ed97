import { daysLost, lostVariance } from './cleanLag.js';
import { freshRow } from './freshRow.js';
import { POINTS, RATES } from './grid.js';
import { type GrowthShape, levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import {
  AHEAD,
  addRise,
  asChances,
  daysAhead,
  noChances,
  noPoints,
  noRise,
  readAt,
  riseOf,
  summed,
} from './passageTable.js';
import type { ShapeParameters } from './shapeParameters.js';

/** Of each span of rates of the grid the chances, by some days, of a first passage from the day after a clean. */
export function cleanedChances(
  beliefs: readonly LineBelief[],
  spans: readonly (readonly [from: number, to: number])[],
  limit: number,
  asOfDay: number,
  days: Float64Array,
): Float64Array[] {
  const chances = spans.map(() => freshRow(days.length));
  const totals = freshRow(spans.length);
  for (const belief of beliefs) {
    const rows = cleanedRows(belief, asOfDay, limit, days);
    const table = rows.chances;
    for (let k = 0; k < spans.length; k++) {
      const [from, to] = spans[k]!;
      const out = chances[k]!;
      for (let g = from; g < to; g++) {
        const weight = belief.weight[g]!;
        if (weight <= 0) continue;
        totals[k] = totals[k]! + weight;
        if (rows.known[g] === 0) workOut(rows, g, belief, asOfDay, limit, days);
        const at = g * out.length;
        for (let d = 0; d < out.length; d++) out[d] = out[d]! + weight * table[at + d]!;
      }
    }
  }
  return chances.map((row, k) => asChances(row, totals[k]!));
}

/** Chances by some days at each rate of the grid, row by row; `known` is 1 where asked for already. */
interface Rows {
  chances: Float64Array;
  known: Uint8Array;
}

/** After a clean they are the same for every line of a base, so each is worked out once. */
interface HeldRows {
  asOfDay: number;
  /** By limit, then by the array of days. */
  byLimit: Map<number, Map<Float64Array, Rows>>;
}

/** Lines with limits of their own must not fill the memory. */
const LIMITS_KEPT = 64;
/** Those of the cost rule and the finer ones about each of their places. */
const DAYS_KEPT = 40;

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
  // Kept from line to line: not in rows that are used again.
  const rows = ofLimit.get(days) ?? {
    chances: new Float64Array(POINTS * days.length),
    known: new Uint8Array(POINTS),
  };
  ofLimit.set(days, rows);
  return rows;
}

function workOut(
  rows: Rows,
  g: number,
  { shape, parameters }: LineBelief,
  asOfDay: number,
  limit: number,
  days: Float64Array,
): void {
  const { residualMean, residualSd } = parameters;
  const slope = slopeAt(shape, residualMean);
  const point = noPoints(1);
  point.rate[0] = RATES[g]!;
  point.level[0] = levelToY(shape, residualMean) - daysLost(parameters.lagDays, 0, Infinity) * RATES[g]!;
  point.variance[0] =
    (residualSd * residualSd) / (slope * slope) +
    lostVariance(parameters.lagDays, 0, Infinity) * RATES[g]! * RATES[g]!;
  point.rateSpread[0] = 0;
  point.levelSpread[0] = 0;
  const rise = noRise();
  riseOf(rise, point, 0, levelToY(shape, limit), daysAhead(parameters, asOfDay));
  const sum = noChances(AHEAD.length);
  addRise(sum, rise, 1);
  const chances = summed(sum);
  rows.chances.set(days === AHEAD ? chances : readAt(chances, days), g * days.length);
  rows.known[g] = 1;
}
