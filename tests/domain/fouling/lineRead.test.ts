import { expect, test } from 'vitest';
import type { LineEvidence } from '../../../src/domain/fouling/evidence.js';
import type { BaseFit, FittedShape } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { FINE, fromKnots, KNOTS, LOG_RATES, POINTS } from '../../../src/domain/fouling/grid.js';
import { filterLine, filterState } from '../../../src/domain/fouling/lineFilter.js';
import { advance, type LineRead, lawOf, layLines } from '../../../src/domain/fouling/lineRead.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import { addVisitTimes, START_VISIT_TIMES } from '../../../src/domain/fouling/visitTimes.js';
import { simulatedBase } from '../../bench/fouling/simulatedBase.js';

test('a row over the knots is filled in without a trace where it is a polynomial of the fifth degree', () => {
  const of = (theta: number): number => (theta + 7) ** 3 - 0.1 * (theta + 6) ** 5;
  const filled = new Float64Array(POINTS);
  fromKnots([0, ...KNOTS.logRates.map(of)], 1, filled);
  LOG_RATES.forEach((theta, g) => {
    // the outermost two on either side are reached by a cubic
    const most = g < 4 || g >= POINTS - 4 ? 0.05 : 1e-9;
    expect(Math.abs(filled[g]! - of(theta))).toBeLessThan(most);
  });
});

/** What is read with the filter at every rate. */
function readAtEveryRate(fit: BaseFit, line: LineEvidence, asOfDay: number): LineRead[] {
  const laid = layLines([line], asOfDay);
  return fit.shapes.map(({ k1, k2, parameters, visitTimes }) => {
    const state = filterState(FINE);
    filterLine(laid.steps, 0, lawOf(k1, k2), parameters, state);
    const cleanDay = laid.steps.lastCleanDay[0]!;
    advance(state, lawOf(k1, k2), parameters, laid.steps.lastDay[0]!, asOfDay, cleanDay);
    const logLikelihood = state.weight.map((w) => Math.log(w + 1e-300));
    addVisitTimes(laid.intervals, 0, visitTimes, logLikelihood, 0);
    const atKnots = (row: Float64Array): Float64Array => row.filter((_, g) => g % 2 === 0);
    return {
      logLikelihood,
      mean: atKnots(state.mean),
      variance: atKnots(state.variance),
      sound: new Float64Array(KNOTS.points),
      cleanDay,
    };
  });
}

test('read at every second rate, chances and days are those of every rate', () => {
  const { asOfDay, lines } = simulatedBase('mixed', 150, 7);
  const law = (k1: number, k2: number, weight: number): FittedShape => ({
    k1,
    k2,
    weight,
    parameters: START_PARAMETERS,
    visitTimes: START_VISIT_TIMES,
    siteVariance: 0.3,
    lineVariance: 0.5,
    coefficients: [],
    covariance: [],
    sites: {},
    lines: Object.fromEntries(lines.map(({ evidence }) => [evidence.lineId, [Math.log(0.001), 0.8]])),
  });
  const fit: BaseFit = {
    engineVersion: '',
    asOfDay,
    traits: {} as BaseFit['traits'],
    shapes: [law(0, 0, 0.6), law(1.2, -2, 0.4)],
  };
  const off = { chance: [] as number[], days: [] as number[], told: 0 };
  for (const { evidence, limit } of lines) {
    const [own, slow] = [
      forecastLine(fit, evidence, asOfDay),
      forecastLine(fit, evidence, asOfDay, readAtEveryRate(fit, evidence, asOfDay)),
    ];
    for (const days of [0, 30, 90, 365])
      off.chance.push(Math.abs(own.passage(limit).chanceBy(days) - slow.passage(limit).chanceBy(days)));
    const [a, b] = [own.passage(limit).quantile(0.1), slow.passage(limit).quantile(0.1)];
    if (a !== null && b !== null) off.days.push(Math.abs(a - b) / Math.max(1, 0.01 * b));
    // Whoever looks at every reading finds no more than who leaves lines out that seem sound.
    expect(own.doubts.map(({ id }) => id)).toEqual(slow.doubts.map(({ id }) => id));
    expect(own.change?.sinceDay).toEqual(slow.change?.sinceDay);
    off.told += own.doubts.length + (own.change ? 1 : 0);
  }
  const sorted = (values: number[]): number[] => values.sort((x, y) => x - y);
  const at = (values: number[], share: number): number => sorted(values)[Math.floor(share * values.length)]!;
  expect(at(off.chance, 0.98)).toBeLessThan(0.008);
  expect(Math.max(...off.chance)).toBeLessThan(0.03);
  // A day, or a hundredth of the time until then.
  expect(at(off.days, 0.98)).toBeLessThan(1);
  expect(off.told).toBeGreaterThan(3);
});
