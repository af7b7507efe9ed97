import { isoDate } from '../calendar/isoDate.js';
import type { ClientDecision, ClosedSeason } from './dueDateInput.js';
import { daysInWords, type Reason } from './dueDateReason.js';

/** What the client's standing decisions leave: no visit at all, or none before a day. */
export interface DecisionEffect {
  rule: 'refused' | 'postponed';
  decidedDay: number;
  /** Null: no visit until the client says otherwise. */
  notBeforeDay: number | null;
  reason: Reason;
}

/** The decision that binds longest on `today`; null when none is in force. */
export function decisionInForce(decisions: readonly ClientDecision[], today: number): DecisionEffect | null {
  let binding: ClientDecision | null = null;
  for (const decision of decisions) {
    if (decision.decidedDay > today) continue;
    if (decision.untilDay !== null && decision.untilDay <= today) continue;
    if (binding === null || (decision.untilDay ?? Infinity) > (binding.untilDay ?? Infinity))
      binding = decision;
  }
  if (binding === null) return null;
  const rule = binding.kind === 'refusal' ? 'refused' : 'postponed';
  const until = binding.untilDay === null ? null : isoDate(binding.untilDay);
  const decidedOn = isoDate(binding.decidedDay);
  const { decidedBy, riskTold } = binding;
  const text =
    `${decidedBy} ${rule === 'refused' ? 'refused' : 'postponed'} the visit on ${decidedOn}, ` +
    `${until === null ? 'until further word' : `until ${until}`}; told: ${riskTold}`;
  return {
    rule,
    decidedDay: binding.decidedDay,
    notBeforeDay: binding.untilDay,
    reason: { code: rule, facts: { decidedBy, decidedOn, until, riskTold }, text },
  };
}

/** Found plugged after the client decided: the risk told was of a line that ran. Null when it was not. */
export function plugSince(decision: DecisionEffect | null, pluggedSinceDay: number | null): Reason | null {
  if (decision === null || pluggedSinceDay === null || pluggedSinceDay <= decision.decidedDay) return null;
  const foundOn = isoDate(pluggedSinceDay);
  return {
    code: 'plug_after_decision',
    facts: { foundOn, decidedOn: isoDate(decision.decidedDay) },
    text: `Found plugged on ${foundOn}, after the client decided: an order waits for their yes or no, so ask again.`,
  };
}

/** What allows a visit to come after a closed season instead of soon after a clean. */
export interface SoonAfterClean {
  cleanedDay: number;
  /** A visit within so many days of the clean is one too many. */
  leastDays: number;
  /** Danger, or what was promised, asks for a visit by this day, or it would be put off too long. */
  neededByDay: number;
}

/**
 * A due day inside a closed season moves before it. Where that is no longer possible it stays where it is, so
 * that nobody is told later than the line allows; a day postponed into the season moves after it instead, and so does
 * one that would come soon after a clean for custom's sake alone.
 *
 * @param custom Null where more than custom asks for the visit.
 */
export function outsideClosedSeasons(
  day: number,
  today: number,
  notBeforeDay: number | null,
  seasons: readonly ClosedSeason[],
  custom: SoonAfterClean | null = null,
): { day: number; reason: Reason | null } {
  let moved = day;
  let because: ClosedSeason | null = null;
  for (let round = 0; round <= seasons.length; round++) {
    const season = seasons.find(({ fromDay, toDay }) => moved >= fromDay && moved <= toDay);
    if (season === undefined) break;
    because = season;
    moved = season.fromDay - 1;
  }
  if (because === null) return { day, reason: null };
  if (notBeforeDay !== null && moved < notBeforeDay) {
    const after = firstOpenDay(notBeforeDay, seasons);
    return { day: after, reason: seasonReason(because, after, 'the postponed visit moves after it') };
  }
  if (moved < today)
    return { day, reason: seasonReason(because, day, 'it has begun, the line does not wait for its end') };
  const after = firstOpenDay(day, seasons);
  if (custom !== null && moved - custom.cleanedDay < custom.leastDays && after < custom.neededByDay)
    return { day: after, reason: seasonReason(because, after, afterIt(moved, custom)) };
  return { day: moved, reason: seasonReason(because, moved, 'the visit moves before it') };
}

function afterIt(before: number, { cleanedDay }: SoonAfterClean): string {
  const gap = daysInWords(before - cleanedDay);
  return `before it, on ${isoDate(before)}, the visit would come ${gap} after the clean of ${isoDate(cleanedDay)}, and no danger asks for it by the season's end: it moves after it`;
}

function firstOpenDay(day: number, seasons: readonly ClosedSeason[]): number {
  let open = day;
  for (let round = 0; round <= seasons.length; round++) {
    const season = seasons.find(({ fromDay, toDay }) => open >= fromDay && open <= toDay);
    if (season === undefined) return open;
    open = season.toDay + 1;
  }
  return open;
}

function seasonReason(season: ClosedSeason, day: number, what: string): Reason {
  const facts = {
    from: isoDate(season.fromDay),
    to: isoDate(season.toDay),
    reason: season.reason,
    on: isoDate(day),
  };
  return {
    code: 'closed_season',
    facts,
    text: `Closed from ${facts.from} to ${facts.to} (${season.reason}); ${what}: ${facts.on}.`,
  };
}
