import type { BaseFit } from '../../domain/fouling/fitBase.js';
import { type LawLooks, startLooks } from '../../domain/fouling/poolLooks.js';

/** What the night keeps of a line, so that lines without news need not be read again. */
export interface LineState {
  /** Fit under which its prior was set. */
  fitId: string;
  /** Mark of the books on this line: the same as long as nothing it rests on changed. */
  digest: string;
  /** Under each growth law of the fit: look, precision, prior mean, prior variance. */
  numbers: Float64Array;
}

const PER_LAW = 4;

/** Stored looks of many lines under each law; lines without any begin anew. `null` entries were never seen. */
export function looksOf(states: readonly (LineState | null)[], laws: number): LawLooks[] {
  return Array.from({ length: laws }, (_, law) => {
    const looks = startLooks(states.length);
    states.forEach((state, i) => {
      if (!state || state.numbers.length !== PER_LAW * laws) return;
      const at = PER_LAW * law;
      looks.look[i] = state.numbers[at] ?? 0;
      looks.precision[i] = state.numbers[at + 1] ?? 0;
      looks.priorMean[i] = state.numbers[at + 2] ?? 0;
      looks.priorVariance[i] = state.numbers[at + 3] ?? 0;
    });
    return looks;
  });
}

export const fitsLaws = (state: Pick<LineState, 'numbers'>, laws: number): boolean =>
  state.numbers.length === PER_LAW * laws;

/** Line i's numbers out of the looks under all laws. */
export function numbersOf(looks: readonly LawLooks[], i: number): Float64Array {
  const numbers = new Float64Array(PER_LAW * looks.length);
  looks.forEach(({ look, precision, priorMean, priorVariance }, law) => {
    const at = PER_LAW * law;
    numbers[at] = look[i] ?? 0;
    numbers[at + 1] = precision[i] ?? 0;
    numbers[at + 2] = priorMean[i] ?? 0;
    numbers[at + 3] = priorVariance[i] ?? 0;
  });
  return numbers;
}

/** The stored fit with the priors of these lines, as forecasts read it. */
export function withPriors(
  fit: BaseFit,
  lines: readonly { lineId: string; state: Pick<LineState, 'numbers'> }[],
): BaseFit {
  const laws = fit.shapes.length;
  return {
    ...fit,
    shapes: fit.shapes.map((shape, law) => {
      const priors: Record<string, [mean: number, variance: number]> = {};
      for (const { lineId, state } of lines)
        if (fitsLaws(state, laws))
          priors[lineId] = [state.numbers[PER_LAW * law + 2] ?? 0, state.numbers[PER_LAW * law + 3] ?? 1];
      return { ...shape, lines: priors };
    }),
  };
}
