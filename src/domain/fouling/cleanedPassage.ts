import { daysLost, lostVariance } from './cleanLag.js';
import { freshRow } from './freshRow.js';
import { POINTS, RATES } from './grid.js';
import { type GrowthShape, levelToY, slopeAt } from './growthShape.js';
import type { LineBelief } from './lineBelief.js';
import type { FirstPassage } from './passage.js';
import { AHEAD, addChances, asChances, daysAhead, noPoints, passageFrom, readAt } from './passageTable.js';
import type { ShapeParameters } from './shapeParameters.js';

/** First passages from the day after a clean, for each span of rates of the grid. */
export function cleanedPassages(
  beliefs: readonly LineBelief[],
  spans: readonly (readonly [from: number, to: number])[],
  limit: number,
  asOfDay: number,
): FirstPassage[] {
  const held = new Map<Float64Array, Float64Array[]>();
  const chancesBy = (days: Float64Array): Float64Array[] => {
    const known = held.get(days);
    if (known) return known;
    const made = cleanedChances(beliefs, spans, limit, asOfDay, days);
    held.set(days, made);
    return made;
  };
  return spans.map((_, k) =>
    passageFrom(
      () => chancesBy(AHEAD)[k]!,
      (days) => chancesBy(days)[k]!,
    ),
  );
}

/** Of each span the chances by some days. */
function cleanedChances(
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
    for (let k = 0; k < spans.length; k++) {
      const [from, to] = spans[k]!;
      const out = chances[k]!;
      for (let g = from; g < to; g++) {
        const weight = belief.weight[g]!;
        if (weight <= 0) continue;
        totals[k] = totals[k]! + weight;
        const row = rows[g] ?? cleanedRow(belief, RATES[g]!, asOfDay, limit, days);
        rows[g] = row;
        for (let d = 0; d < out.length; d++) out[d] = out[d]! + weight * row[d]!;
      }
    }
  }
  return chances.map((row, k) => asChances(row, totals[k]!));
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
  const point = noPoints(1);
  point.weight[0] = 1;
  point.rate[0] = rate;
  point.level[0] = levelToY(shape, residualMean) - daysLost(parameters.lagDays, 0, Infinity) * rate;
  point.variance[0] =
    (residualSd * residualSd) / (slope * slope) + lostVariance(parameters.lagDays, 0, Infinity) * rate * rate;
  const chances = new Float64Array(AHEAD.length);
  addChances(chances, point, 0, levelToY(shape, limit), daysAhead(parameters, asOfDay));
  // Kept from line to line: not in rows that are used again.
  return days === AHEAD ? chances : Float64Array.from(readAt(chances, days));
}
