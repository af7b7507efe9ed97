import type { DueRule } from '../fouling/dueDateReason.js';
import type { Basement, Material, ProposalKind } from '../words.js';

/** What speaks for a work, with its numbers; ready to be told to a client. */
export interface Idea {
  kind: ProposalKind;
  reasons: { code: string; facts: Record<string, number | string>; text: string }[];
  /** Visits a year it would spare; null where it spares harm, not visits. */
  visitsSavedPerYear: number | null;
}

export interface LineFactsForIdeas {
  material: Material;
  lengthM: number | null;
  hasCleanout: boolean;
  /** Cleans of the last two years in which the nozzle stopped short of four fifths of the line. */
  nozzleStops: number;
  furthestM: number | null;
  /** Of the jetters in service. */
  longestReachM: number | null;
  ratePerMonth: number;
  readingsUsed: number;
  /** What the night's rules say of the line's system with and without it; null where they were not asked. */
  smooth: SmoothPipeVisits | null;
  /** Median over PVC lines of the same kind in the base, and how many they are. */
  smoothRatePerMonth: number | null;
  smoothLines: number;
}

/** What sets how often a system is visited. */
export type VisitRule = DueRule | 'pit_test';

/** Visits of a whole system, counted from a clean of all its lines, by the rules that hold for each line. */
export interface SmoothPipeVisits {
  asIs: { intervalDays: number; rule: VisitRule };
  /** With a new smooth pipe in place of the line. */
  withIt: { intervalDays: number; rule: VisitRule };
}

/** So often it is no accident (common practice, no source). */
const LEAST_STOPS = 2;
/** Fewer PVC lines, or fewer readings of this one, tell nothing of the pipe (common practice, no source). */
const LEAST_PEERS = 5;
const LEAST_READINGS = 3;
/** A smooth pipe must foul at most this share as fast to be worth a dig (common practice, no source). */
const SMOOTH_AT_MOST = 0.7;
const YEAR_DAYS = 365.25;
/** Fewer visits a year spared are no reason for a dig (common practice, no source). */
const LEAST_SAVED = 0.25;

/** A cleanout where the nozzle cannot get through; a smooth pipe where corrugated pipe fouls much faster than PVC of the same kind. */
export function ideasForLine(line: LineFactsForIdeas): Idea[] {
  return [cleanoutIdea(line), smoothPipeIdea(line)].filter((idea) => idea !== null);
}

function cleanoutIdea(line: LineFactsForIdeas): Idea | null {
  const { hasCleanout, nozzleStops, furthestM, lengthM, longestReachM } = line;
  const reasons: Idea['reasons'] = [];
  if (lengthM === null) return null;
  if (nozzleStops >= LEAST_STOPS && furthestM !== null)
    reasons.push({
      code: 'nozzle_stops',
      facts: { times: nozzleStops, furthestM, lengthM },
      text: `The nozzle stopped short ${nozzleStops} times in two years, at ${meters(furthestM)} of ${meters(lengthM)} at the furthest.`,
    });
  if (!hasCleanout && longestReachM !== null && lengthM > longestReachM)
    reasons.push({
      code: 'longer_than_reach',
      facts: { lengthM, longestReachM },
      text: `The line is ${meters(lengthM)} long and has no cleanout; the longest hose reaches ${meters(longestReachM)}.`,
    });
  return reasons.length === 0 ? null : { kind: 'cleanout', reasons, visitsSavedPerYear: null };
}

/** Whether the pipe itself seems the reason: corrugated, well read, and much faster than PVC of its kind. */
export function foulsFasterThanSmooth(
  line: Pick<
    LineFactsForIdeas,
    'material' | 'ratePerMonth' | 'readingsUsed' | 'smoothRatePerMonth' | 'smoothLines'
  >,
): boolean {
  const { material, ratePerMonth, readingsUsed, smoothRatePerMonth, smoothLines } = line;
  if (material !== 'corrugated_hdpe' || smoothRatePerMonth === null) return false;
  if (smoothLines < LEAST_PEERS || readingsUsed < LEAST_READINGS) return false;
  return smoothRatePerMonth <= SMOOTH_AT_MOST * ratePerMonth;
}

/** Only where the house is visited less often for it: a slower rate alone is no saving while another rule brings the crew. */
function smoothPipeIdea(line: LineFactsForIdeas): Idea | null {
  const { ratePerMonth, readingsUsed, smoothRatePerMonth, smoothLines, smooth } = line;
  if (!foulsFasterThanSmooth(line) || smoothRatePerMonth === null || smooth === null) return null;
  const visits = ({ intervalDays }: SmoothPipeVisits['asIs']): number => YEAR_DAYS / intervalDays;
  const [now, then] = [visits(smooth.asIs), visits(smooth.withIt)];
  const saved = now - then;
  if (!(saved >= LEAST_SAVED)) return null;
  const text =
    `Corrugated pipe that fouls ${percent(ratePerMonth)} of its bore a month, by ${readingsUsed} readings; the middle one of ` +
    `${smoothLines} PVC lines of its kind fouls ${percent(smoothRatePerMonth)}. By all rules the house is now visited every ` +
    `${smooth.asIs.intervalDays} days for this system, ${now.toFixed(1)} times a year; with a new smooth pipe every ` +
    `${smooth.withIt.intervalDays} days, ${then.toFixed(1)} times: then ${BINDS[smooth.withIt.rule]}.`;
  const facts = {
    ratePerMonth,
    smoothRatePerMonth,
    smoothLines,
    readingsUsed,
    systemDaysNow: smooth.asIs.intervalDays,
    ruleNow: smooth.asIs.rule,
    systemDaysThen: smooth.withIt.intervalDays,
    ruleThen: smooth.withIt.rule,
  };
  return {
    kind: 'smooth_pipe',
    reasons: [{ code: 'fouls_faster', facts, text }],
    visitsSavedPerYear: saved,
  };
}

/** What brings the crew, in a sentence. */
const BINDS: Readonly<Record<VisitRule, string>> = {
  refused: 'nobody comes',
  postponed: 'the client postponed',
  over_limit: 'a line there is likely past its action limit',
  after_plug: 'a line there was opened after a plug',
  recheck: 'a line there must be looked at again',
  limit_passed: 'a line there was past its action limit before',
  risk: 'the chance of a plug there brings the crew',
  cost_least: 'it costs least',
  hardening: 'ochre there must go before it hardens',
  care_terms: 'the care terms bring the crew',
  first_interval: 'the first intervals of a line not proven yet bring the crew; they may grow',
  growth: 'intervals grow in steps only',
  max_interval: 'no line waits longer',
  closed_season: 'a closed season comes before',
  pit_test: 'the pump must be tested',
};

export interface PitFactsForIdeas {
  basement: Basement;
  /** On record; a pit without any says nothing of its alarm. */
  pumps: number;
  backups: number;
  /** Null when nobody knows. */
  alarm: boolean | null;
  plugChanceYear: number | null;
  /** Of the last two years. */
  calls: number;
  floods: number;
  plugs: number;
}

/** An alarm or a second pump where water has come or would reach a basement; not where no pump is on record. */
export function ideasForPit(pit: PitFactsForIdeas): Idea[] {
  const { basement, pumps, backups, alarm, calls, floods, plugs } = pit;
  if (pumps === 0) return [];
  const happened = calls + floods + plugs;
  const told: Idea['reasons'] =
    happened === 0
      ? []
      : [
          {
            code: 'happened_before',
            facts: { calls, floods, plugs },
            text: `In two years: ${count(calls, 'call')}, ${count(floods, 'flood')} after a visit, ${count(plugs, 'plug')} in the system.`,
          },
        ];
  const ideas: Idea[] = [];
  if (alarm === false && (basement === 'finished' || happened > 0))
    ideas.push({
      kind: 'alarm',
      reasons: [
        {
          code: 'no_alarm',
          facts: { basement },
          text: `No alarm on the pump, and the basement is ${basementText(basement)}.`,
        },
        ...told,
      ],
      visitsSavedPerYear: null,
    });
  if (backups === 0 && (floods > 0 || (basement === 'finished' && happened > 0)))
    ideas.push({
      kind: 'second_pump',
      reasons: [
        {
          code: 'one_pump',
          facts: { pumps, basement },
          text: `One pump alone keeps the basement dry, and it is ${basementText(basement)}.`,
        },
        ...told,
      ],
      visitsSavedPerYear: null,
    });
  return ideas;
}

const meters = (m: number): string => `${Math.round(m * 10) / 10} m`;
const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
const count = (n: number, what: string): string => `${n} ${what}${n === 1 ? '' : 's'}`;
const basementText = (basement: Basement): string =>
  ({
    finished: 'finished',
    basement: 'unfinished',
    none: 'not there',
    unknown: 'of a kind nobody wrote down',
  })[basement];
