import type { Basement, CallKind, Urgency } from '../words.js';
import type { Answer } from './callTriage.js';

/** Work with a time by which somebody must be there, as far as its rank goes. */
export interface RankedCall {
  /** Null: no call on record, only the time. */
  kind: CallKind | null;
  urgency: Urgency;
  waterInHouse: Answer;
  basement: Basement;
  /** From the start of the first day planned to the time somebody must be there. */
  hoursLeft: number;
}

/** Whether water stands in the house, may, or does not. */
export const waterOf = ({ kind, waterInHouse }: Pick<RankedCall, 'kind' | 'waterInHouse'>): Answer => {
  if (kind !== 'water_rising' || waterInHouse === 'yes') return waterInHouse;
  // Rising, but by the caller's word not in the house yet.
  return waterInHouse === 'no' ? 'unknown' : 'yes';
};

/**
 * Which call comes before which: water in a finished basement (6), in another (5), in a house without one (4), a call
 * of today where water may be in the house (3), where it is not (2), one for the coming days (1); 0 is work without a
 * time. What ranks lower never takes the place of what ranks higher. Common practice, no source.
 */
export function callRank(call: Omit<RankedCall, 'hoursLeft'>): number {
  const water = waterOf(call);
  if (water === 'yes') return RANK_OF_FLOOD[call.basement];
  if (call.urgency === 'in_days') return 1;
  return water === 'unknown' ? 3 : 2;
}

const RANK_OF_FLOOD: Record<Basement, number> = { finished: 6, basement: 5, unknown: 5, none: 4 };

/** What leaving the call out costs, in plugged lines, by rank. Common practice, no source. */
const WORTH = [0, 0.2, 1, 1.5, 2, 3, 4] as const;
/** Of two of one rank the one to be answered sooner is worth at most so much more. */
const SOONER_SHARE = 0.2;
const HALF_HOURS = 8;

/** How many plugged lines it costs to leave the call unanswered. */
export function callWorth(call: RankedCall): number {
  const sooner = 1 + (SOONER_SHARE * HALF_HOURS) / (HALF_HOURS + Math.max(0, call.hoursLeft));
  return (WORTH[callRank(call)] ?? 0) * sooner;
}
