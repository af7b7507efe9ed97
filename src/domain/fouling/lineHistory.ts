import type { LineEvidence } from './evidence.js';
import type { BaseFit } from './fitBase.js';
import { lineBelief } from './lineBelief.js';
import { type FilterState, filterState, filterStep, rescale, startState } from './lineFilter.js';
import { levelQuantiles } from './lineLevel.js';
import { advance, layLines, readsOf } from './lineRead.js';
import { CLEAN } from './lineSteps.js';

export interface PastLevel {
  day: number;
  q10: number;
  q50: number;
  q90: number;
}

/**
 * The belief about the past between cleans, by what was known at each moment, with the rates believed now, under
 * the likeliest growth law. Two entries share a day where something was found or cleaned: before and after it.
 */
export function history(fit: BaseFit, line: LineEvidence, asOfDay: number, stepDays: number): PastLevel[] {
  const fitted = fit.shapes[0];
  if (!fitted) return [];
  const laid = { ...layLines([line], asOfDay), i: 0 };
  const { steps } = laid;
  const [read] = readsOf(laid, [fitted], asOfDay);
  if (!read) return [];
  const belief = lineBelief(fit, fitted, line, read);
  const { shape, parameters, weight } = belief;
  const state = filterState();
  startState(state, steps.startsClean[0] === 1, parameters);
  const out: PastLevel[] = [];
  const take = (day: number, from: FilterState): void => {
    const [q10 = 0, q50 = 0, q90 = 0] = levelQuantiles([{ weight, state: from }], [0.1, 0.5, 0.9]);
    out.push({ day, q10, q50, q90 });
  };
  const ahead = filterState();
  let day = line.start.day;
  let cleanDay = -Infinity;
  const grown = (to: number): FilterState => {
    ahead.mean.set(state.mean);
    ahead.variance.set(state.variance);
    advance(ahead, shape, parameters, day, to, cleanDay);
    return ahead;
  };
  const walk = (to: number): void => {
    for (let at = day + stepDays; at < to; at += stepDays) take(at, grown(at));
    if (to > day) take(to, grown(to));
  };
  take(day, state);
  for (let s = 0; s < steps.first[1]!; s++) {
    walk(steps.day[s]!);
    filterStep(steps, s, shape, parameters, state);
    rescale(state);
    day = steps.day[s]!;
    if (steps.action[s] === CLEAN) cleanDay = day;
    take(day, state);
  }
  walk(asOfDay);
  return out;
}
