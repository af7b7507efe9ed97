import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import type { LineHistory } from '../../../src/domain/fouling/dueDateHistory.js';
import type { DueDateInput } from '../../../src/domain/fouling/dueDateInput.js';
import type { FirstPassage, PolicyForecast, RateComponent } from '../../../src/domain/fouling/passage.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

/** A passage from its distribution function, by bisection where a quantile is asked. */
export function passageOf(chanceBy: (days: number) => number, horizonDays = 4000): FirstPassage {
  return {
    horizonDays,
    chanceBy,
    quantile(p) {
      if (chanceBy(0) >= p) return 0;
      if (chanceBy(horizonDays) < p) return null;
      let low = 0;
      let high = horizonDays;
      for (let i = 0; i < 60; i++) {
        const middle = (low + high) / 2;
        if (chanceBy(middle) < p) low = middle;
        else high = middle;
      }
      return high;
    },
  };
}

export const weibull = (eta: number, beta: number): FirstPassage =>
  passageOf((time) => -Math.expm1(-((time / eta) ** beta)), 100 * eta);

/** Line of one known rate whose life follows the passage, whatever the limit. */
export function knownRate(passage: FirstPassage): RateComponent {
  return { weight: 1, ratePerDay: 1, passage: () => passage, passageAfterClean: () => passage };
}

/** Growth at a steady rate with noise whose variance grows with time: close to a Wiener process without ups and downs. */
function straight(occlusion: number, ratePerDay: number, limit: number, sd: number): FirstPassage {
  return passageOf((days) => {
    const spread = Math.sqrt(sd * sd + 0.0004 * ratePerDay * days * 10);
    return normalCdf((occlusion + ratePerDay * days - limit) / spread);
  });
}

/**
 * A line of `occlusion` now whose rate is log-normal around `medianRate`, as seven equal shares of belief.
 * @param logSd .05: rate well known; 1.2: a line nobody ever measured.
 */
export function lineOf(
  occlusion: number,
  medianRate: number,
  logSd: number,
  asOf = '2026-06-01',
  sd = 0.05,
): PolicyForecast {
  const nodes = [-1.465, -0.792, -0.366, 0, 0.366, 0.792, 1.465];
  const components = nodes.map((z) => {
    const ratePerDay = medianRate * Math.exp(logSd * z);
    return {
      weight: 1 / nodes.length,
      ratePerDay,
      passage: (limit: number) => straight(occlusion, ratePerDay, limit, sd),
      passageAfterClean: (limit: number) => straight(0.03, ratePerDay, limit, 0.02),
    };
  });
  const mix = (limit: number): FirstPassage => {
    const passages = components.map((component) => component.passage(limit));
    return passageOf((days) => passages.reduce((sum, each) => sum + each.chanceBy(days) / nodes.length, 0));
  };
  return {
    asOfDay: dayNumber(asOf),
    occlusionNow: { mean: occlusion, sd },
    readingsUsed: 3,
    passage: mix,
    components,
  };
}

/** Cleaned on a day, nothing else known: no rule but its first interval binds. */
export function cleanedOn(day: string): LineHistory {
  return {
    cleanSinceDay: dayNumber(day),
    lastClean: {
      day: dayNumber(day),
      occlusionBefore: 0.2,
      beforeIsDoubted: false,
      beforeIsHigh: false,
      plugged: false,
      residue: 0.03,
    },
    lookedAtSinceClean: false,
    pluggedSinceDay: null,
    stopped: null,
    doubtedPlugs: [],
    seenSinceDay: null,
    doubtedHigh: null,
    certainFind: null,
    passedLimit: [],
    doubtedReadings: [],
    cleansSinceReopened: null,
    longestGoodDays: 0,
    laidGood: null,
    toldChange: null,
    provenToDay: null,
    lookedOnDay: null,
    wetSeasonSeen: true,
    needlesslyShort: false,
  };
}

/** A line without ochre, slow, cleaned on the day of the forecast: due only after the first year. */
export function quietLine(changes: Partial<DueDateInput> = {}): DueDateInput {
  return {
    forecast: lineOf(0.03, 0.00001, 0.05),
    limits: { action: 0.45, plug: 0.9 },
    consequence: { basement: 'finished', wholeSystem: false },
    ochre: 'none_seen',
    staysWet: null,
    history: cleanedOn('2026-06-01'),
    noFlowDay: null,
    bookedSinceDay: dayNumber('2026-06-01'),
    careTerms: null,
    closedSeasons: [],
    decisions: [],
    previous: null,
    settings: DEFAULT_SETTINGS,
    ...changes,
  };
}

/** Abramowitz & Stegun 26.2.17, error below 7.5e-8: enough for a fixture. */
function normalCdf(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const tail =
    (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) *
    t *
    (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  return z > 0 ? 1 - tail : tail;
}
