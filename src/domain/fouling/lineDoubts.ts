import type { Doubt, LineEvidence } from './evidence.js';
import { type BaseFit, type FittedShape, priorOf } from './fitBase.js';
import { LOG_RATES, POINTS } from './grid.js';
import { lawOf } from './lineBelief.js';
import { filterLine, filterState } from './lineFilter.js';
import { lineSteps } from './lineSteps.js';

/** Older readings are past checking. */
const LOOKED_AT = 24;
/** A slip is told to the office when it is likelier than not. */
const TOLD = 0.5;

/**
 * Readings more likely slips than not, under all others of the line, before and after them. The likelihood of a
 * line is that of a right reading and that of a slip, weighted; leaving the reading out gives the second.
 */
export function lineDoubts(fit: BaseFit, fitted: FittedShape, line: LineEvidence, asOfDay: number): Doubt[] {
  const prior = priorOf(fit, fitted, line);
  const weight = LOG_RATES.map((theta) =>
    Math.exp((-0.5 * (theta - prior.mean) * (theta - prior.mean)) / prior.variance),
  );
  const shape = lawOf(fitted.k1, fitted.k2);
  const state = filterState();
  const logLikelihood = (without: number): number => {
    filterLine(lineSteps([line], asOfDay, without), 0, shape, fitted.parameters, state);
    let sum = 0;
    for (let g = 0; g < POINTS; g++) sum += weight[g]! * state.weight[g]!;
    return Math.log(sum + 1e-300) + state.logScale;
  };
  const all = logLikelihood(-1);
  const doubts: Doubt[] = [];
  line.events.forEach((event, index) => {
    if (event.kind !== 'reading' || event.bound !== 'exact' || event.day > asOfDay) return;
    if (index < line.events.length - 3 * LOOKED_AT) return;
    const slip = fitted.parameters.grossShare * Math.exp(logLikelihood(index) - all);
    const suspicion = Math.min(1, slip);
    if (suspicion >= TOLD) doubts.push({ id: event.id, weight: 1 - suspicion, suspicion });
  });
  return doubts.sort((a, b) => a.weight - b.weight || (a.id < b.id ? -1 : 1));
}
