import type { LineEvidence, LineForecast, ReadingEvent } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { freshRow } from './freshRow.js';
import { LOG_RATES, POINTS, STEP } from './grid.js';
import { type LineBelief, lineBelief } from './lineBelief.js';
import { lineChange } from './lineChange.js';
import { agreedFinds, lineDoubts } from './lineDoubts.js';
import { type Hindsight, lineHindsight } from './lineHindsight.js';
import { levelMoments, levelQuantiles } from './lineLevel.js';
import { LinePassages } from './linePassage.js';
import { advance, type LineRead, layLines, readsOf } from './lineRead.js';

export { history, type PastLevel } from './lineHistory.js';

/**
 * What is believed about one line on a day: a line with no reading and one with twenty go through here.
 * Passages and change are worked out when asked for.
 * @param reads What its readings say under each law of the fit on that day, where that is known.
 */
export function forecastLine(
  fit: BaseFit,
  line: LineEvidence,
  asOfDay: number,
  reads: readonly LineRead[] = readsOf({ ...layLines([line], asOfDay), i: 0 }, fit.shapes, asOfDay),
): LineForecast {
  const forecast = new Forecast(fit, line, asOfDay, reads);
  const agreed = agreedFinds(line.events, forecast.doubts);
  if (agreed.size === 0) return forecast;
  const events = line.events.map((event) =>
    event.kind === 'reading' && agreed.has(event.id) ? { ...event, confirmed: true, agreed: true } : event,
  );
  const sure = { ...line, events };
  return new Forecast(
    fit,
    sure,
    asOfDay,
    readsOf({ ...layLines([sure], asOfDay), i: 0 }, fit.shapes, asOfDay),
  );
}

class Forecast extends LinePassages implements LineForecast {
  readonly occlusionNow: LineForecast['occlusionNow'];
  readonly ratePerDay: LineForecast['ratePerDay'];
  readonly readingsUsed: number;
  private readonly fit: BaseFit;
  readonly evidence: LineEvidence;
  private readonly cleanDay: number;
  private readonly odd: boolean;
  private seen: Hindsight | null = null;
  private told: LineForecast['doubts'] | null = null;

  constructor(fit: BaseFit, line: LineEvidence, asOfDay: number, reads: readonly LineRead[]) {
    const cleanDay = reads[0]?.cleanDay ?? -Infinity;
    const beliefs = fit.shapes.map((fitted, law) =>
      lineBelief(fit, fitted, line, reads[law]!, asOfDay - cleanDay),
    );
    super(beliefs, asOfDay);
    this.fit = fit;
    this.evidence = line;
    this.cleanDay = cleanDay;
    this.occlusionNow = levelNow(beliefs);
    this.ratePerDay = rateNow(beliefs);
    this.readingsUsed = readingsOf(line, asOfDay);
    this.odd = beliefs.length > 0 && mayBeOdd(beliefs[0]!, reads[0]!);
  }

  get doubts(): LineForecast['doubts'] {
    if (!this.odd) return [];
    const { fit, best, evidence, asOfDay } = this;
    this.told ??= lineDoubts(fit, best, evidence, asOfDay, this.hindsight().suspects);
    return this.told;
  }

  get unsure(): LineForecast['unsure'] {
    if (!this.odd) return NONE;
    const { events } = this.evidence;
    return new Set([...this.hindsight().unsure].map((index) => (events[index] as ReadingEvent).id));
  }

  get change(): LineForecast['change'] {
    if (!this.odd) return null;
    return lineChange(this.fit, this.best, this.evidence, this.asOfDay, this.hindsight());
  }

  given(evidence: LineEvidence): LineForecast {
    return forecastLine(this.fit, evidence, this.asOfDay);
  }

  curve(daysAhead: number): { q10: number; q50: number; q90: number } {
    const { asOfDay, cleanDay } = this;
    const later = this.beliefs.map(({ shape, parameters, weight, state }) => {
      const moving = {
        grid: state.grid,
        mean: Float64Array.from(state.mean),
        variance: Float64Array.from(state.variance),
      };
      advance(moving, shape, parameters, asOfDay, asOfDay + daysAhead, cleanDay);
      return { weight, state: moving };
    });
    const [low = 0, middle = 0, high = 0] = levelQuantiles(later, [0.1, 0.5, 0.9]);
    return { q10: low, q50: middle, q90: high };
  }

  private get best(): FittedShape {
    return this.fit.shapes[0]!;
  }

  private hindsight(): Hindsight {
    this.seen ??= lineHindsight(this.fit, this.best, this.evidence, this.asOfDay);
    return this.seen;
  }
}

const TENTHS = [0.1, 0.9];

function levelNow(beliefs: readonly LineBelief[]): LineForecast['occlusionNow'] {
  const moments = levelMoments(beliefs);
  const [q10 = 0, q90 = 0] = levelQuantiles(beliefs, TENTHS, moments);
  return { ...moments, q10, q90 };
}

function readingsOf({ events }: LineEvidence, asOfDay: number): number {
  let count = 0;
  for (const { kind, day } of events)
    if ((kind === 'reading' || kind === 'plugged') && day <= asOfDay) count++;
  return count;
}

const NONE: ReadonlySet<string> = new Set();

/** Where all is this likely to be sound there is nothing to tell: a slip is told when likelier than not, a change surer. */
const SOUND = 0.7;

/** Whether any reading may be a slip, or the rate have changed. */
function mayBeOdd({ weight }: LineBelief, { sound }: LineRead): boolean {
  let total = 0;
  let whole = 0;
  for (let g = 0; g < POINTS; g++) {
    total += weight[g]!;
    whole += weight[g]! * Math.min(sound[g >> 1]!, sound[(g + 1) >> 1]!);
  }
  return !(whole > SOUND * total);
}

function rateWeights(beliefs: readonly LineBelief[]): Float64Array {
  const weight = freshRow(POINTS);
  for (const belief of beliefs) for (let g = 0; g < POINTS; g++) weight[g] = weight[g]! + belief.weight[g]!;
  return weight;
}

function rateNow(beliefs: readonly LineBelief[]): LineForecast['ratePerDay'] {
  const weight = rateWeights(beliefs);
  const at = (p: number): number => {
    let below = 0;
    for (let g = 0; g < POINTS; g++) {
      const share = weight[g]!;
      if (share > 0 && below + share >= p) {
        // Within the point's own cell, straight in the log rate.
        return Math.exp(LOG_RATES[g]! + ((p - below) / share - 0.5) * STEP);
      }
      below += share;
    }
    return Math.exp(LOG_RATES[POINTS - 1]!);
  };
  return { median: at(0.5), q10: at(0.1), q90: at(0.9) };
}
