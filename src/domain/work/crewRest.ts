import type { OwnerSettings } from './settings.js';

/** A crew's day as a person wants it, against its shift and the next one. Seconds since midnight of the day. */
export interface DayAgainstShift {
  endSeconds: number;
  shiftStartSeconds: number;
  shiftEndSeconds: number;
  /** Overtime a plan may use. */
  overtimeSeconds: number;
  /** Start of the crew's next shift, counted from the same midnight; null: none in sight. */
  nextShiftSeconds: number | null;
}

export type DayTrouble =
  | { code: 'next_shift_begun'; overSeconds: number }
  | { code: 'longer_than_a_day'; seconds: number }
  | { code: 'rest_too_short'; restSeconds: number; wantedSeconds: number }
  | { code: 'past_overtime'; overSeconds: number }
  | { code: 'overtime'; overSeconds: number };

/** What nobody can do: be back after the next shift began, or work around the clock. */
export const isImpossible = ({ code }: DayTrouble): boolean =>
  code === 'next_shift_begun' || code === 'longer_than_a_day';

const DAY_SECONDS = 86_400;

/** What is wrong with the end of a crew's day, worst first; rest between shifts is the owner's `calls.restHours`. */
export function dayTroubles(day: DayAgainstShift, { calls }: Pick<OwnerSettings, 'calls'>): DayTrouble[] {
  const { endSeconds, nextShiftSeconds } = day;
  const overSeconds = endSeconds - day.shiftEndSeconds;
  if (overSeconds <= 0) return [];
  const troubles: DayTrouble[] = [];
  if (nextShiftSeconds !== null) {
    const restSeconds = nextShiftSeconds - endSeconds;
    const wantedSeconds = Math.round(calls.restHours * 3600);
    if (restSeconds < 0) troubles.push({ code: 'next_shift_begun', overSeconds: -restSeconds });
    else if (restSeconds < wantedSeconds)
      troubles.push({ code: 'rest_too_short', restSeconds, wantedSeconds });
  }
  const seconds = endSeconds - day.shiftStartSeconds;
  if (seconds > DAY_SECONDS) troubles.push({ code: 'longer_than_a_day', seconds });
  troubles.push({ code: overSeconds > day.overtimeSeconds ? 'past_overtime' : 'overtime', overSeconds });
  return troubles;
}
