import { LOG_RATES, POINTS, RATES } from '../../src/domain/fouling/grid.js';
import { type GrowthShape, growthShape } from '../../src/domain/fouling/growthShape.js';
import { filterLine, filterState, grow } from '../../src/domain/fouling/lineFilter.js';
import { lineSteps } from '../../src/domain/fouling/lineSteps.js';
import { normalCdf } from '../../src/domain/fouling/normal.js';
import type { FirstPassage, PolicyForecast, RateComponent } from '../../src/domain/fouling/passage.js';
import { type ShapeParameters, START_PARAMETERS } from '../../src/domain/fouling/shapeParameters.js';
import { evidenceOf } from './replayEvidence.js';
import { GAMMA_NOISE, type Process, WIENER_NOISE } from './replayLines.js';
import { costLeastVisit, daysAt, LONGEST_DAYS, type ReplayRule } from './replayRules.js';

/** Which growth law of the estimator's family comes nearest to the process; exact for all but autocatalytic. */
const SHAPES: Record<Process, [k1: number, k2: number]> = {
  gamma: [0, 0],
  wiener: [0, 0],
  site_season: [0, 0],
  autocatalytic: [3.2, -9.3],
  saturating: [-1.6, 0],
};

/**
 * One who knows how the base fouls (spread of rates, growth law, noise) but of a line only what was read: it
 * parts the price of not knowing the line from the price of having to learn the base. No pooling by site.
 */
export function knowingBase(risk: number | 'cost-least'): ReplayRule {
  let shape = growthShape(0, 0);
  let parameters = START_PARAMETERS;
  let prior = new Float64Array(POINTS);
  let startDay = 0;
  const state = filterState();
  return {
    name: `true base ${risk}`,
    learn(base) {
      const logs = base.lines.map((line) => Math.log(line.rate));
      const mean = logs.reduce((sum, each) => sum + each, 0) / logs.length;
      const variance = logs.reduce((sum, each) => sum + (each - mean) ** 2, 0) / logs.length;
      prior = LOG_RATES.map((theta) => Math.exp((-0.5 * (theta - mean) ** 2) / variance));
      shape = growthShape(...SHAPES[base.process]);
      startDay = base.startDay;
      parameters = {
        ...START_PARAMETERS,
        growthNoise: base.process === 'wiener' ? 0 : GAMMA_NOISE,
        timeNoise: base.process === 'wiener' ? WIENER_NOISE ** 2 : 0,
        cameraFactor: 0.05 / 0.08,
        otherFactor: 0.8,
        changesPerYear: 0,
        lagDays: 0.01,
      };
    },
    daysToVisit(line, _index, visits, day) {
      const evidence = evidenceOf(line, visits, startDay);
      const steps = lineSteps([evidence], day);
      filterLine(steps, 0, shape, parameters, state);
      const ahead = Math.max(0, day - steps.lastDay[0]!);
      if (ahead > 0) grow(state, shape, ahead, parameters.growthNoise, parameters.timeNoise * ahead);
      const belief = forecastOf(
        state.weight.map((w, g) => w * prior[g]!),
        state,
        shape,
        parameters,
        day,
      );
      const last = visits.at(-1)?.day ?? line.installedDay;
      if (risk === 'cost-least') return costLeastVisit(belief, line, day - last);
      return daysAt(belief.passage(line.threshold).chanceBy, risk);
    },
  };
}

function forecastOf(
  weights: Float64Array,
  state: { mean: Float64Array; variance: Float64Array },
  shape: GrowthShape,
  parameters: ShapeParameters,
  asOfDay: number,
): PolicyForecast {
  const total = weights.reduce((sum, each) => sum + each, 0);
  const now = curves(state.mean, state.variance, shape, parameters);
  const residue = new Float64Array(POINTS).fill(parameters.residualMean);
  const spread = new Float64Array(POINTS).fill(parameters.residualSd ** 2);
  const fresh = curves(residue, spread, shape, parameters);
  const components: RateComponent[] = [];
  for (let g = 0; g < POINTS; g++) {
    const weight = weights[g]! / total;
    if (weight < 1e-4) continue;
    components.push({
      weight,
      ratePerDay: RATES[g]!,
      passage: (limit) => passageOf((days) => now(g, limit, days)),
      passageAfterClean: (limit) => passageOf((days) => fresh(g, limit, days)),
    });
  }
  return {
    asOfDay,
    occlusionNow: { mean: 0, sd: 0 },
    readingsUsed: 0,
    components,
    passage(limit) {
      const parts = components.map((each) => ({ weight: each.weight, passage: each.passage(limit) }));
      return passageOf((days) =>
        parts.reduce((sum, each) => sum + each.weight * each.passage.chanceBy(days), 0),
      );
    },
  };
}

const passageOf = (chanceBy: (days: number) => number): FirstPassage => ({
  horizonDays: LONGEST_DAYS,
  chanceBy,
  quantile: (p) => daysAt(chanceBy, p),
});

/** Chance of each rate to be past a limit; the whole grid is grown once per day asked. */
function curves(mean: Float64Array, variance: Float64Array, shape: GrowthShape, parameters: ShapeParameters) {
  const grownTo = new Map<number, { mean: Float64Array; variance: Float64Array }>();
  const start = filterState();
  return (g: number, limit: number, days: number): number => {
    let at = grownTo.get(days);
    if (at === undefined) {
      start.mean.set(mean);
      start.variance.set(variance);
      if (days > 0) grow(start, shape, days, parameters.growthNoise, parameters.timeNoise * days);
      at = { mean: start.mean.slice(), variance: start.variance.slice() };
      grownTo.set(days, at);
    }
    return normalCdf((at.mean[g]! - limit) / Math.sqrt(at.variance[g]!));
  };
}
