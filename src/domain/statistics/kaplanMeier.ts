/** How long something was watched, and whether the watch ended with the event or without it. */
export interface Watched {
  /** From the start of the watch, above 0. */
  days: number;
  event: boolean;
  /** How many were watched so; absent: one. */
  count?: number;
}

export interface SurvivalStep {
  days: number;
  /** Still watched and free just before. */
  atRisk: number;
  events: number;
  /** Share free beyond these days. */
  survival: number;
  standardError: number;
  /** 95 %, by itself at these days; on the scale of log(−log), so that it stays between 0 and 1. */
  low: number;
  high: number;
}

const Z_95 = 1.959964;

/**
 * Share still free after each event. Who left the watch on the day of an event was still at risk on it.
 *
 * @throws {RangeError} When somebody was watched for no time.
 * @see Kaplan & Meier (1958), J. Am. Stat. Assoc. 53, 457–481; standard error by Greenwood (1926); band by Kalbfleisch & Prentice (1980).
 */
export function kaplanMeier(watched: readonly Watched[]): SurvivalStep[] {
  const days = new Map<number, { events: number; left: number }>();
  let atRisk = 0;
  for (const { days: at, event, count = 1 } of watched) {
    if (!(at > 0)) throw new RangeError(`watched for ${at} days`);
    const day = days.get(at) ?? { events: 0, left: 0 };
    if (event) day.events += count;
    day.left += count;
    days.set(at, day);
    atRisk += count;
  }
  const steps: SurvivalStep[] = [];
  let survival = 1;
  let greenwood = 0;
  for (const [at, { events, left }] of [...days].sort(([a], [b]) => a - b)) {
    if (events > 0) {
      survival *= 1 - events / atRisk;
      greenwood += events / (atRisk * (atRisk - events));
      steps.push({ days: at, atRisk, events, survival, ...spreadOf(survival, greenwood) });
    }
    atRisk -= left;
  }
  return steps;
}

/** Where nobody is left free, no spread can be told: the band says nothing, 0 to 1. */
function spreadOf(survival: number, greenwood: number) {
  if (survival <= 0) return { standardError: 0, low: 0, high: 1 };
  const shift = (Z_95 * Math.sqrt(greenwood)) / Math.abs(Math.log(survival));
  return {
    standardError: survival * Math.sqrt(greenwood),
    low: Math.exp(Math.log(survival) * Math.exp(shift)),
    high: Math.exp(Math.log(survival) * Math.exp(-shift)),
  };
}

/** First day on which at most half are still free; null when more than half stayed so. */
export function medianDays(steps: readonly SurvivalStep[]): number | null {
  return steps.find(({ survival }) => survival <= 0.5)?.days ?? null;
}
