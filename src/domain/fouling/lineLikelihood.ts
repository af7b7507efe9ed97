import type { LineEvidence } from './evidence.js';
import { type BaseFit, type FittedShape, priorOf } from './fitBase.js';
import { freshRow } from './freshRow.js';
import { FINE, POINTS } from './grid.js';
import { filterLine, filterState } from './lineFilter.js';
import { lawOf } from './lineRead.js';
import type { LineSteps } from './lineSteps.js';

/**
 * Prior of a line's log rate at each point of a grid, but for a factor: normal to its ends, unlike a belief's, for what lies
 * far from the line's like is worth a person's look.
 */
export function priorWeight(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  { points, logRates } = FINE,
): Float64Array {
  const prior = priorOf(fit, fitted, line);
  const weight = freshRow(points);
  for (let g = 0; g < points; g++) {
    const away = logRates[g]! - prior.mean;
    weight[g] = Math.exp((-0.5 * away * away) / prior.variance);
  }
  return weight;
}

/**
 * Log likelihood of what was found on one line, under one growth law and the line's prior, for steps that may differ
 * from what is in the book: a reading left out or changed, a clean after which nothing changed.
 */
export function lineLikelihood(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
): (steps: LineSteps) => number {
  const weight = priorWeight(fit, fitted, line);
  const shape = lawOf(fitted.k1, fitted.k2);
  const state = filterState();
  return (steps) => {
    filterLine(steps, 0, shape, fitted.parameters, state);
    let sum = 0;
    for (let g = 0; g < POINTS; g++) sum += weight[g]! * state.weight[g]!;
    return Math.log(sum + 1e-300) + state.logScale;
  };
}
