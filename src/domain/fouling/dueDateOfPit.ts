import { isoDate } from '../calendar/isoDate.js';
import type { OwnerSettings } from '../work/settings.js';
import { dayReason, daysInWords, type Reason } from './dueDateReason.js';
import type { Ochre } from './policy.js';

/** What the last test of a pit and its pump found; null where it was not tried. */
export interface PitTest {
  day: number;
  floatCycled: boolean | null;
  checkValveHolds: boolean | null;
  backupWorks: boolean | null;
  alarmWorks: boolean | null;
  /** Sludge as a share of the depth below the intake. */
  sludgeShare: number | null;
}

/** Parts of a pump that a test tries, and what is said of one that is dead. */
export const PIT_PARTS = {
  floatCycled: 'the float did not cycle',
  checkValveHolds: 'the check valve does not hold',
  backupWorks: 'the backup pump does not run',
  alarmWorks: 'the alarm does not sound',
} as const;

/** Next test of a pit's pump: gel on float, intake and check valve floods more houses than pipe does. */
export function dueDateOfPit(
  pit: { lastTest: PitTest | null; bookedSinceDay: number; ochre: Ochre },
  asOfDay: number,
  { pits }: Pick<OwnerSettings, 'pits'>,
): { dueDay: number; intervalDays: number; reason: Reason } {
  const { lastTest, ochre } = pit;
  const startDay = lastTest?.day ?? pit.bookedSinceDay;
  const faults = lastTest === null ? [] : faultsOf(lastTest, pits.sludgeShare);
  if (faults.length > 0) {
    const facts = { testedOn: isoDate(startDay), faults: faults.join('; ') };
    const text = `At the last test ${facts.faults}; due now`;
    return {
      dueDay: asOfDay,
      intervalDays: asOfDay - startDay,
      reason: { code: 'pit_fault', facts, text: `${text}: ${isoDate(asOfDay)}.` },
    };
  }
  const days = ochre === 'known' ? pits.testDaysKnownOchre : pits.testDays;
  const dueDay = Math.max(asOfDay, startDay + days);
  const text = `A pump is tested every ${daysInWords(days)}${ochre === 'known' ? ' where ochre is known' : ''}`;
  const reason = {
    ...dayReason('max_interval', text, { days, since: isoDate(startDay) }, dueDay),
    code: 'pit_test',
  };
  return { dueDay, intervalDays: dueDay - startDay, reason };
}

function faultsOf(test: PitTest, sludgeLimit: number): string[] {
  const parts = (Object.keys(PIT_PARTS) as (keyof typeof PIT_PARTS)[]).filter((part) => test[part] === false);
  const faults: string[] = parts.map((part) => PIT_PARTS[part]);
  if ((test.sludgeShare ?? 0) > sludgeLimit) faults.push('sludge stood too high');
  return faults;
}
