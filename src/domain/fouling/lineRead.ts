import { daysLost, lostVariance } from './cleanLag.js';
import type { LineEvidence } from './evidence.js';
import { freshRow, reusingRows, rowToFill } from './freshRow.js';
import { KNOTS, POINTS } from './grid.js';
import { type GrowthShape, growthShape } from './growthShape.js';
import { type FilterState, filterLine, filterState, grow, logWeights } from './lineFilter.js';
import { cutSteps, type LineSteps, lineSteps, putSteps, roomForSteps } from './lineSteps.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';
import {
  addVisitTimes,
  type Intervals,
  intervalsOf,
  putIntervals,
  roomForIntervals,
  sameVisitTimes,
  type VisitTimes,
} from './visitTimes.js';

/** Lines laid out together. */
export interface LaidLines {
  steps: LineSteps;
  intervals: Intervals;
}

/** A line among those laid out together. */
export interface LaidLine extends LaidLines {
  i: number;
}

export function layLines(lines: readonly LineEvidence[], asOfDay: number): LaidLines {
  return { steps: lineSteps(lines, asOfDay), intervals: intervalsOf(lines, asOfDay) };
}

/**
 * The same line by line.
 * @param lineAt A line, asked for once; it may be gone when the next is asked for.
 * @param events Of all lines together.
 */
export function layEach(
  lines: number,
  events: number,
  lineAt: (i: number) => LineEvidence,
  asOfDay: number,
): LaidLines {
  const steps = roomForSteps(lines, events);
  const intervals = roomForIntervals(lines);
  for (let i = 0; i < lines; i++) {
    const line = lineAt(i);
    putSteps(steps, i, line, asOfDay);
    putIntervals(intervals, i, line, asOfDay);
  }
  return { steps: cutSteps(steps), intervals };
}

/** What all that was found of a line says under one law, without any prior. */
export interface LineRead {
  /** At each rate; 0 at the likeliest. */
  logLikelihood: Float64Array;
  /** Level on the day asked, at each of KNOTS. */
  mean: Float64Array;
  variance: Float64Array;
  /** At each of KNOTS at least the chance that the rate never changed and a reading, whichever it be, is no slip. */
  sound: Float64Array;
  /** Day of the last clean; −Infinity where none is on record. */
  cleanDay: number;
}

/** A law of growth with all that lines share under it. */
export interface ReadLaw {
  k1: number;
  k2: number;
  parameters: ShapeParameters;
  visitTimes: VisitTimes;
}

const laws = new Map<string, GrowthShape>();

/** A growth law's tables depend on its two numbers alone: made once. */
export function lawOf(k1: number, k2: number): GrowthShape {
  const key = `${k1} ${k2}`;
  const held = laws.get(key);
  if (held) return held;
  const made = growthShape(k1, k2);
  laws.set(key, made);
  return made;
}

/** Reads a line under each law in turn; what is handed over holds until the next one. */
function readUnderLaws(
  laid: LaidLine,
  underLaws: readonly ReadLaw[],
  asOfDay: number,
  take: (read: LineRead, law: number) => void,
): void {
  let visits: { times: VisitTimes; row: Float64Array } | null = null;
  underLaws.forEach(({ k1, k2, parameters, visitTimes }, law) => {
    if (visits === null || !sameVisitTimes(visits.times, visitTimes)) {
      const row = freshRow(POINTS);
      addVisitTimes(laid.intervals, laid.i, visitTimes, row, 0);
      visits = { times: visitTimes, row };
    }
    const shape = lawOf(k1, k2);
    filterLine(laid.steps, laid.i, shape, parameters, state);
    advance(state, shape, parameters, laid.steps.lastDay[laid.i]!, asOfDay, laid.steps.lastCleanDay[laid.i]!);
    logWeights(state, logLikelihood);
    let top = -Infinity;
    for (let g = 0; g < POINTS; g++) {
      const log = logLikelihood[g]! + visits.row[g]!;
      logLikelihood[g] = log;
      if (log > top) top = log;
    }
    for (let g = 0; g < POINTS; g++) logLikelihood[g] = logLikelihood[g]! - top;
    for (let k = 0; k < KNOTS.points; k++)
      sound[k] = (state.leastRight[k]! * state.unchanged[k]!) / (state.weight[k]! + 1e-300);
    read.cleanDay = laid.steps.lastCleanDay[laid.i]!;
    take(read, law);
  });
}

const state = filterState(KNOTS);
const logLikelihood = new Float64Array(POINTS);
const sound = new Float64Array(KNOTS.points);
const read: LineRead = {
  logLikelihood,
  mean: state.mean,
  variance: state.variance,
  sound,
  cleanDay: -Infinity,
};

/** Lets the level grow from one day to a later one, at every rate. */
export function advance(
  moving: Pick<FilterState, 'grid' | 'mean' | 'variance'>,
  shape: GrowthShape,
  parameters: ShapeParameters,
  fromDay: number,
  toDay: number,
  cleanDay = -Infinity,
): void {
  if (toDay <= fromDay) return;
  const age = fromDay - cleanDay;
  const lost = daysLost(parameters.lagDays, age, toDay - fromDay);
  const days = Math.max(0, seasonDays(parameters, fromDay, toDay) - lost);
  const lostSquare = lostVariance(parameters.lagDays, age, toDay - fromDay);
  grow(moving, shape, days, parameters.growthNoise, parameters.timeNoise * (toDay - fromDay), lostSquare);
}

/** The reads of many lines under each law, row by row: small, and in memory that threads share. */
export interface BlockRead {
  logLikelihood: Float32Array[];
  mean: Float32Array[];
  variance: Float32Array[];
  /** Under the first law, the likeliest, alone. */
  sound: Float32Array[];
  /** Of each line. */
  cleanDay: Float64Array;
}

export function readBlock(laid: LaidLines, underLaws: readonly ReadLaw[], asOfDay: number): BlockRead {
  const lines = laid.steps.first.length - 1;
  const rows = (points: number, laws = underLaws.length): Float32Array[] =>
    Array.from(
      { length: laws },
      () => new Float32Array(new SharedArrayBuffer(lines * points * Float32Array.BYTES_PER_ELEMENT)),
    );
  const out: BlockRead = {
    logLikelihood: rows(POINTS),
    mean: rows(KNOTS.points),
    variance: rows(KNOTS.points),
    sound: rows(KNOTS.points, 1),
    cleanDay: laid.steps.lastCleanDay.slice(),
  };
  for (let i = 0; i < lines; i++) {
    const take = (line: LineRead, law: number): void => {
      out.logLikelihood[law]!.set(line.logLikelihood, i * POINTS);
      out.mean[law]!.set(line.mean, i * KNOTS.points);
      out.variance[law]!.set(line.variance, i * KNOTS.points);
      out.sound[law]?.set(line.sound, i * KNOTS.points);
    };
    reusingRows(() => readUnderLaws({ ...laid, i }, underLaws, asOfDay, take));
  }
  return out;
}

/** Line i of a block under one law. */
export function lineOfBlock(block: BlockRead, law: number, i: number): LineRead {
  const row = (rows: readonly Float32Array[], points: number): Float64Array => {
    const from = rows[law];
    const copy = rowToFill(from ? points : 0);
    if (from) for (let g = 0; g < points; g++) copy[g] = from[i * points + g]!;
    return copy;
  };
  return {
    logLikelihood: row(block.logLikelihood, POINTS),
    mean: row(block.mean, KNOTS.points),
    variance: row(block.variance, KNOTS.points),
    sound: row(block.sound, KNOTS.points),
    cleanDay: block.cleanDay[i]!,
  };
}

/** A line by itself under each law. */
export function readsOf(laid: LaidLine, underLaws: readonly ReadLaw[], asOfDay: number): LineRead[] {
  const copyOf = (row: Float64Array): Float64Array => {
    const copy = rowToFill(row.length);
    copy.set(row);
    return copy;
  };
  const reads: LineRead[] = [];
  readUnderLaws(laid, underLaws, asOfDay, (line) => {
    reads.push({
      logLikelihood: copyOf(line.logLikelihood),
      mean: copyOf(line.mean),
      variance: copyOf(line.variance),
      sound: copyOf(line.sound),
      cleanDay: line.cleanDay,
    });
  });
  return reads;
}
