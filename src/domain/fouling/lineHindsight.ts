import type { LineEvidence } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { KNOTS, unmixRates } from './grid.js';
import { changedShare, type FilterTrace, filterLine, filterState, kernelOf } from './lineFilter.js';
import { priorWeight } from './lineLikelihood.js';
import { lawOf } from './lineRead.js';
import { AT_LEAST, CLEAN, type LineSteps, lineSteps, PLUGGED } from './lineSteps.js';

/** What later findings say of earlier ones. */
export interface Hindsight {
  /** Readings and plugs that may be slips, by their place among the events. */
  suspects: ReadonlySet<number>;
  /** Readings not wholly believed, suspects among them, by their place among the events. */
  unsure: ReadonlySet<number>;
  /** Chance of an unannounced change of rate at each clean, by itself; the latest first. */
  changes: readonly { day: number; chance: number }[];
}

/** Readings less suspect than this at first sight are not looked into: what a closer look finds differs by far less. */
const LOOKED_INTO = 0.15;
/** A reading that fits is a slip far less often. */
const UNSURE = 0.02;

/**
 * One run through the filter and one back over the rates: of each reading the chance that it is a slip, but for what
 * it tells of the level of its own cycle, and of each clean the chance that the rate changed there.
 */
export function lineHindsight(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  asOfDay: number,
): Hindsight {
  const steps = lineSteps([line], asOfDay);
  const end = steps.first[1]!;
  const suspects = new Set<number>();
  const unsure = new Set<number>();
  const changes: { day: number; chance: number }[] = [];
  const trace = traceOf(end);
  filterLine(steps, 0, lawOf(fitted.k1, fitted.k2), fitted.parameters, ownState, trace);
  const later = priorWeight(fit, fitted, line, KNOTS);
  for (let s = end - 1; s >= 0; s--) {
    const at = s * KNOTS.points;
    if (mayBeSlip(steps, s, line)) {
      let all = 0;
      let wrong = 0;
      for (let g = 0; g < KNOTS.points; g++) {
        const belief = trace.weight[at + g]! * later[g]!;
        all += belief;
        wrong += belief * (1 - trace.right[at + g]!);
      }
      if (!(wrong < LOOKED_INTO * all)) suspects.add(steps.event[s]!);
      if (!(wrong < UNSURE * all)) unsure.add(steps.event[s]!);
    }
    const share = changedShare(steps, s, fitted.parameters);
    if (share > 0) {
      const before = at - KNOTS.points;
      const kept = s > 0 ? belief(trace.weight, before, later) : 0;
      unmixRates(later, share, kernelOf(fitted.parameters, KNOTS));
      const all = s > 0 ? belief(trace.weight, before, later) : 1;
      if (steps.action[s] === CLEAN && s > 0) {
        changes.push({ day: steps.day[s]!, chance: Math.max(0, 1 - ((1 - share) * kept) / all) });
      }
    } else if (s > 0) {
      for (let g = 0; g < KNOTS.points; g++)
        later[g] = (later[g]! * trace.weight[at + g]!) / (trace.weight[at - KNOTS.points + g]! + 1e-300);
    }
    toOne(later);
  }
  return { suspects, unsure, changes };
}

function mayBeSlip(steps: LineSteps, s: number, line: LineEvidence): boolean {
  const action = steps.action[s]!;
  if (action > AT_LEAST && action !== PLUGGED) return false;
  const event = line.events[steps.event[s]!];
  return (
    (event?.kind === 'plugged' || (event?.kind === 'reading' && event.bound === 'exact')) && !event.confirmed
  );
}

function belief(weight: Float64Array, at: number, later: Float64Array): number {
  let sum = 0;
  for (let g = 0; g < KNOTS.points; g++) sum += weight[at + g]! * later[g]!;
  return sum;
}

const ownState = filterState(KNOTS);
let held: FilterTrace = { weight: new Float64Array(0), right: new Float64Array(0) };

function traceOf(steps: number): FilterTrace {
  const size = steps * KNOTS.points;
  if (held.weight.length < size)
    held = { weight: new Float64Array(2 * size), right: new Float64Array(2 * size) };
  return held;
}

/** Largest value 1. */
function toOne(values: Float64Array): void {
  let largest = 0;
  for (let g = 0; g < KNOTS.points; g++) if (values[g]! > largest) largest = values[g]!;
  for (let g = 0; g < KNOTS.points; g++) values[g] = values[g]! / largest;
}
