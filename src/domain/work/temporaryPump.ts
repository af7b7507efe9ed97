import { daysBetween, type IsoDate } from '../calendar/isoDate.js';

/** What is known of the water round a plug, and of the pump that is set or is not. */
export interface PumpState {
  plugged: boolean;
  /** Water still runs in. */
  hasInflow: boolean;
  /** Day on which the temporary pump was set or last seen to; null: none is in. */
  seenOn: IsoDate | null;
}

export type PumpNeed = 'set' | 'check' | 'remove';

/**
 * What a pit needs of a temporary pump: set with the first work after a plug is reported where water runs in, seen to
 * every so many days for as long as it runs, taken out once the line carries again. Common practice, no source.
 */
export function pumpNeed(
  { plugged, hasInflow, seenOn }: PumpState,
  today: IsoDate,
  checkDays: number,
): PumpNeed | null {
  if (seenOn === null) return plugged && hasInflow ? 'set' : null;
  if (!plugged) return 'remove';
  return daysBetween(seenOn, today) >= checkDays ? 'check' : null;
}
