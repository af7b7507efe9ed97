import { type Chance, gamma, standardNormal } from '../statistics/chance.js';
import type { LineEvidence } from './evidence.js';
import type { BaseFit } from './fitBase.js';
import { POINTS, RATES } from './grid.js';
import { type GrowthShape, levelToY, yToLevel } from './growthShape.js';
import { lineBelief } from './lineBelief.js';
import { layLines, readsOf } from './lineRead.js';
import { type ShapeParameters, seasonDays } from './shapeParameters.js';

/** One line as it may really be: drawn from what is believed of it, and grown by the law it was drawn with. */
export interface SimulatedLine {
  belief: RateBelief;
  /** Fraction of the bore a day, between empty and half full. */
  ratePerDay: number;
  /** Blocked share of the bore. */
  level: number;
  /** Days until deposit takes hold again. */
  waitDays: number;
}

/** What is believed of a line under one growth law: how likely each rate is, and its level at that rate. */
export interface RateBelief {
  shape: GrowthShape;
  parameters: ShapeParameters;
  weight: Float64Array;
  mean: Float64Array;
  variance: Float64Array;
  /** Chance that the lag after its last clean lasts still. */
  waiting: number;
}

/** Spread of log rate when a regime changes, as the filter has it. */
const CHANGE_SD = 0.9;
/** Yearly hazard counts for at most so long since the last clean, as in the filter. */
const LONGEST_YEARS = 10;

/** What is believed of a line under each growth law: worked out once, drawn from as often as wanted. */
export function beliefsOf(fit: BaseFit, line: LineEvidence, asOfDay: number): RateBelief[] {
  const laid = { ...layLines([line], asOfDay), i: 0 };
  const reads = readsOf(laid, fit.shapes, asOfDay);
  const age = asOfDay - laid.steps.lastCleanDay[0]!;
  return fit.shapes.flatMap((fitted, law) => {
    const read = reads[law];
    if (!read) return [];
    const { shape, parameters, weight, state } = lineBelief(fit, fitted, line, read);
    // Copies of their own: they are kept for long.
    return {
      shape,
      parameters,
      weight: weight.slice(),
      mean: state.mean.slice(),
      variance: state.variance.slice(),
      waiting: Math.exp(-age / parameters.lagDays),
    };
  });
}

/** Draws law, rate and level together. @throws {RangeError} When nothing is believed. */
export function drawLine(beliefs: readonly RateBelief[], chance: Chance): SimulatedLine {
  const total = beliefs.reduce((sum, { weight }) => sum + weight.reduce((a, b) => a + b, 0), 0);
  let left = chance.unit() * total;
  for (const belief of beliefs) {
    for (let g = 0; g < POINTS; g++) {
      const weight = belief.weight[g]!;
      left -= weight;
      if (left > 0 || weight === 0) continue;
      const sd = Math.sqrt(belief.variance[g]!);
      const level = within(belief.mean[g]! + sd * standardNormal(chance));
      const waits = belief.waiting > NO_WAIT && chance.unit() < belief.waiting;
      return { belief, ratePerDay: RATES[g]!, level, waitDays: waits ? drawnLag(belief, chance) : 0 };
    }
  }
  const last = beliefs.at(-1);
  if (!last) throw new RangeError('a line nothing is believed of');
  return { belief: last, ratePerDay: RATES[0]!, level: 0, waitDays: 0 };
}

/** Lets a line foul from one day to a later one: in bursts, and by what comes and goes. */
export function growLine(line: SimulatedLine, fromDay: number, toDay: number, chance: Chance): void {
  const { shape, parameters } = line.belief;
  const startDay = Math.min(toDay, fromDay + line.waitDays);
  line.waitDays -= startDay - fromDay;
  const mean = line.ratePerDay * Math.max(0, seasonDays(parameters, startDay, toDay));
  const grown =
    gamma(mean, parameters.growthNoise * mean, chance) +
    Math.sqrt(parameters.timeNoise * (toDay - fromDay)) * standardNormal(chance);
  line.level = within(yToLevel(shape, levelToY(shape, line.level) + grown));
}

/** Cleans a line: it keeps its residue, or what was there if that was less; now and then it fouls otherwise from here on. */
export function cleanLine(line: SimulatedLine, daysSinceClean: number, chance: Chance): void {
  const { parameters } = line.belief;
  const residue = parameters.residualMean + parameters.residualSd * standardNormal(chance);
  line.level = Math.min(line.level, within(residue));
  line.waitDays = drawnLag(line.belief, chance);
  const years = Math.min(LONGEST_YEARS, daysSinceClean / 365.25);
  if (chance.unit() < -Math.expm1(-parameters.changesPerYear * years)) changeRate(line, chance);
}

const NO_WAIT = 1e-6;

const drawnLag = ({ parameters }: RateBelief, chance: Chance): number =>
  -parameters.lagDays * Math.log(1 - chance.unit());

/** Another rate: a two-sided exponential in its logarithm. */
function changeRate(line: SimulatedLine, chance: Chance): void {
  const away = -Math.log(1 - chance.unit()) * (CHANGE_SD / Math.SQRT2);
  const log = Math.log(line.ratePerDay) + (chance.unit() < 0.5 ? -away : away);
  line.ratePerDay = Math.min(RATES[POINTS - 1]!, Math.max(RATES[0]!, Math.exp(log)));
}

const within = (level: number): number => Math.min(1, Math.max(0, level));
