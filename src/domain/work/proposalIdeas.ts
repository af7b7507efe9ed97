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
  intervalDays: number | null;
  /** What set the interval; null: no date. */
  dueRule: DueRule | null;
  readingsUsed: number;
  /** Median over PVC lines of the same kind in the base, and how many they are. */
  smoothRatePerMonth: number | null;
  smoothLines: number;
}

/** So often it is no accident (common practice, no source). */
const LEAST_STOPS = 2;
/** Fewer PVC lines, or fewer readings of this one, tell nothing of the pipe (common practice, no source). */
const LEAST_PEERS = 5;
const LEAST_READINGS = 3;
/** A smooth pipe must foul at most this share as fast to be worth a dig (common practice, no source). */
const SMOOTH_AT_MOST = 0.7;
const YEAR_DAYS = 365.25;

/** Rules by which a line that fouls half as fast is seen half as often; care terms, ochre and first intervals do not ask. */
const BY_THE_RATE: ReadonlySet<DueRule> = new Set(['over_limit', 'risk', 'cost_least']);

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

function smoothPipeIdea(line: LineFactsForIdeas): Idea | null {
  const { material, ratePerMonth, intervalDays, dueRule, readingsUsed, smoothRatePerMonth, smoothLines } =
    line;
  if (material !== 'corrugated_hdpe' || smoothRatePerMonth === null || intervalDays === null) return null;
  if (smoothLines < LEAST_PEERS || readingsUsed < LEAST_READINGS || !(intervalDays > 0)) return null;
  const ratio = smoothRatePerMonth / ratePerMonth;
  if (!(ratio <= SMOOTH_AT_MOST)) return null;
  const visits = YEAR_DAYS / intervalDays;
  const saved = dueRule !== null && BY_THE_RATE.has(dueRule) ? visits * (1 - ratio) : null;
  const consequence =
    saved === null
      ? 'Its visits are set by another rule, which a smooth pipe does not change by itself.'
      : `At that rate ${visits.toFixed(1)} visits a year would be ${(visits - saved).toFixed(1)}.`;
  const text =
    `Corrugated pipe that fouls ${percent(ratePerMonth)} of its bore a month, by ${readingsUsed} readings; the middle one of ` +
    `${smoothLines} PVC lines of its kind fouls ${percent(smoothRatePerMonth)}. ${consequence}`;
  return {
    kind: 'smooth_pipe',
    reasons: [
      { code: 'fouls_faster', facts: { ratePerMonth, smoothRatePerMonth, smoothLines, readingsUsed }, text },
    ],
    visitsSavedPerYear: saved,
  };
}

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
