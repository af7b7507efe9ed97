import type { CareTerms, ClientDecision, ClosedSeason } from '../../domain/fouling/dueDateInput.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import type { LineKind } from '../../domain/words.js';

/** What a line's due date rests on beside its own evidence. */
export interface LinePolicy {
  /** Kinds of all lines whose water runs through it. */
  upstream: LineKind[];
  careTerms: CareTerms | null;
  decisions: ClientDecision[];
  /** Dissolved iron of the line, else the highest of its site. */
  ironMgL: number | null;
  /** Day of the first clean since the last good one after which no water was seen to run; null: there is none. */
  noFlowDay: number | null;
  /** What hydraulics said of its action limit. */
  limitReason: Reason | null;
}

/** Closed seasons in which a line of the kind cannot be cleaned. */
export type SeasonsOfKinds = Record<LineKind, ClosedSeason[]>;
