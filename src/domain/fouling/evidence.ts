import type { LineKind, Material, Method, Phase, PlugCause, RegimeCause } from '../words.js';
import type { FirstPassage, RateComponent } from './passage.js';

/** Days are fractional numbers of days since 1970-01-01; occlusions are fractions of the bore. */
export interface ReadingEvent {
  kind: 'reading';
  day: number;
  /** 0 to 1. */
  occlusion: number;
  /** Standard error of the method as known beforehand; the fit scales it by what the base shows. */
  sd: number;
  bound: 'exact' | 'at_most' | 'at_least';
  method: Method;
  phase: Phase;
  id: string;
  /** Doubted once, and a person found it right: it counts in full. */
  confirmed?: boolean;
  /** Confirmed by no person but by another look: see `agreedFinds`. */
  agreed?: boolean;
  /** Somebody called: the visit came on its day because of what lines held, not by a round. */
  called?: boolean;
}

/** Found plugged: it passed the full bore some time in the weeks before. */
export interface PluggedEvent {
  kind: 'plugged';
  day: number;
  cause: PlugCause;
  id: string;
  /** Doubted once, and a person found that deposit it was: it is certain. */
  confirmed?: boolean;
}

/** From here on the line carries only what a clean leaves behind. */
export interface CleanEvent {
  kind: 'clean';
  day: number;
}

/** New pump, excavation, part replaced: the old rate may no longer hold. What lies in the line stays. */
export interface RegimeEvent {
  kind: 'regime';
  day: number;
  /** Absent where nobody wrote it down. */
  cause?: RegimeCause;
}

export type EvidenceEvent = ReadingEvent | PluggedEvent | CleanEvent | RegimeEvent;

/** All that is known of one line, as the estimator reads it. */
export interface LineEvidence {
  lineId: string;
  siteId: string;
  /** Town or district; lines of one area share water and soil. */
  area: string;
  kind: LineKind;
  material: Material;
  boreMm: number | null;
  /** Dissolved (ferrous) iron. */
  ironMgL: number | null;
  /** `clean`: new pipe on that day. `unknown`: nobody knows how much deposit it held on that day. */
  start: { kind: 'clean' | 'unknown'; day: number };
  /**
   * First day on which this service, care terms, a client's decision or closed roads set the visits: intervals ending
   * later say nothing about the rate.
   */
  ruledFromDay?: number;
  /** In order of `day`; a clean stands after the reading before it and before the reading after it, which implies it. */
  events: readonly EvidenceEvent[];
}

/** What a doubted reading would fit as; `plug_unforeseen`: a plug that deposit is unlikely to have made. */
export type DoubtReason =
  | 'free_bore_entered'
  | 'divided_twice'
  | 'phases_swapped'
  | 'does_not_fit'
  | 'plug_unforeseen';

/** A reading with the chance that it is a slip: wrong line, wrong unit, typing error; or a plug that was no deposit. */
export interface Doubt {
  id: string;
  reason: DoubtReason;
  /** The reason in plain words with its numbers, for the person who decides. */
  text: string;
  /** Share with which the reading counts, 1 − suspicion. */
  weight: number;
  suspicion: number;
  /** Occlusion the line would most likely have shown instead, to a tenth. */
  fits: number;
}

/** A change of a line's rate that nobody told of. */
export interface RegimeChange {
  /** Day of the clean after which it shows. */
  sinceDay: number;
  /** Chance that there was one. */
  chance: number;
  /** Rate now over rate before. */
  timesAsFast: number;
}

export interface LineForecast {
  asOfDay: number;
  occlusionNow: { mean: number; sd: number; q10: number; q90: number };
  /** Mean growth between empty and half full, over the year, in fractions of the bore. */
  ratePerDay: { median: number; q10: number; q90: number };
  readingsUsed: number;
  /** Readings more likely wrong than usual, most suspect first. */
  doubts: readonly Doubt[];
  /** Readings not wholly believed, doubted or not. */
  unsure: ReadonlySet<string>;
  /** What is believed of the line rests on this: high finds that bear one another out count as confirmed. */
  evidence: LineEvidence;
  /** Null when none is likely. */
  change: RegimeChange | null;
  /** What would be believed of the line on that day had something else been found. */
  given(evidence: LineEvidence): LineForecast;
  passage(limit: number): FirstPassage;
  components: readonly RateComponent[];
  /** Occlusion on a later day if nobody cleans. */
  curve(daysAhead: number): { q10: number; q50: number; q90: number };
}

/** Forecasts say nothing beyond twelve years. */
export const HORIZON_DAYS = 4380;

/** Changes with every change of method: a stored fit of another version is searched anew. */
export const ENGINE_VERSION = 'ochre-20';
