import type { IsoDate } from '../calendar/isoDate.js';
import type { DecisionKind } from '../words.js';
import type { OwnerSettings } from '../work/settings.js';
import type { LineHistory } from './dueDateHistory.js';
import type { DueRule, Reason } from './dueDateReason.js';
import type { FirstPassage, PolicyForecast } from './passage.js';
import type { Consequence, Ochre } from './policy.js';

/** Days are day numbers since 1970-01-01; the day of the forecast is the day of the decision. */
export interface DueDateInput {
  forecast: PolicyForecast;
  limits: { action: number; plug: number };
  consequence: Consequence;
  ochre: Ochre;
  /** Null when nobody knows whether the line stays wet. */
  staysWet: boolean | null;
  history: LineHistory;
  /** Day of the first clean since the last good one after which no water was seen to run; null: there is none. */
  noFlowDay: number | null;
  /** Day the line entered the books: intervals count from it when the line was never known clean and never looked at. */
  bookedSinceDay: number;
  careTerms: CareTerms | null;
  /** Those that hold for this line's depot and task. */
  closedSeasons: readonly ClosedSeason[];
  /** The client's decisions on this line's clean that were not ended. */
  decisions: readonly ClientDecision[];
  /** Due day as last told, and whether the line has news since; null on the first night. */
  previous: { dueDay: number | null; news: boolean } | null;
  settings: OwnerSettings;
  /** When the line would be due had less been found: more is never later. Absent: nothing found is unsure. */
  lowerFind?: { occlusion: number; dueDay: number } | null;
}

export interface CareTerms {
  intervalDays: number | null;
  visitsPerYear: number | null;
  fromDay: number;
  toDay: number | null;
}

/** First and last closed day. */
export interface ClosedSeason {
  fromDay: number;
  toDay: number;
  reason: string;
}

export interface ClientDecision {
  kind: DecisionKind;
  decidedBy: string;
  decidedDay: number;
  riskTold: string;
  /** Null: until the client says otherwise. */
  untilDay: number | null;
}

export interface DueCandidate {
  rule: DueRule;
  /** May lie before the forecast's day: it was due then. Null when the rule asks for no visit. */
  day: number | null;
  /** Put into words only where it is told. */
  reason: () => Reason;
}

export interface DueDate {
  /** Null only when the client refused. May lie in the past: overdue. */
  dueOn: IsoDate | null;
  dueDay: number | null;
  rule: DueRule;
  /** From the start of the running cycle to the due day. */
  intervalDays: number | null;
  /** A look, not a clean, on the way there. */
  lookOn: IsoDate | null;
  /** No visit before it, by the client's decision. */
  notBefore: IsoDate | null;
  /** A visit that is late waits no longer than this, however full the weeks: at once when it lies in the past. Null: no such day. */
  waitsUntil: IsoDate | null;
  /** End of the closed season that lies before the due day: no visit comes sooner than after it. Null: none ahead. */
  openFrom: IsoDate | null;
  /** Found plugged that day and not opened since: it is the chances of now. Null: it runs. */
  pluggedSinceDay: number | null;
  /** All 1 while it is plugged. */
  chances: {
    plugWithinYear: number;
    plugByDue: number | null;
    actionByDue: number | null;
    actionWithin30Days: number;
  };
  candidates: readonly Pick<DueCandidate, 'rule' | 'day'>[];
  reasons: readonly Reason[];
}

/** The input with its two passages at hand: a forecast works for each one it is asked for. */
export interface DueCase extends DueDateInput {
  action: FirstPassage;
  plug: FirstPassage;
}

/** Start of the running cycle: the last clean, else the look a line never known clean is counted from. */
export function cycleStartDay(input: Pick<DueDateInput, 'history' | 'bookedSinceDay'>): number {
  const { cleanSinceDay, seenSinceDay } = input.history;
  return cleanSinceDay ?? seenSinceDay ?? input.bookedSinceDay;
}
