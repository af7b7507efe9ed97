import type { IsoDate } from '../calendar/isoDate.js';
import type { EventType, MailKind, WorkOrderState } from '../words.js';
import type { TellingSettings } from '../work/settings.js';

/** Which events contacts hear of by mail. */
export const MAIL_OF: Partial<Record<EventType, MailKind>> = {
  reminder_due: 'reminder',
  on_the_way: 'on_the_way',
  running_late: 'running_late',
  work_finished: 'done',
};

/** Results of a visit that a contact is told of: work not done is talked about, not mailed. */
export const RESULTS_TOLD = ['done', 'partly', 'not_needed'] as const;

export const isWanted = (kind: MailKind, telling: TellingSettings): boolean =>
  ({
    reminder: telling.mailReminder,
    on_the_way: telling.mailOnTheWay,
    running_late: telling.mailRunningLate,
    done: telling.mailDone,
  })[kind];

/** Whether a kind waits for the morning: who waits for a crew wants to know at once. */
export const heedsQuiet = (kind: MailKind): boolean => kind === 'reminder' || kind === 'done';

/**
 * Seconds until the quiet hours are over; 0 outside of them. From 20:00 to 07:00 runs over midnight; equal times are no
 * quiet hours.
 *
 * @param time Local time of day, `HH:MM`.
 */
export function quietSeconds(
  time: string,
  { quietFrom, quietTo }: Pick<TellingSettings, 'quietFrom' | 'quietTo'>,
): number {
  if (quietFrom === quietTo) return 0;
  const isQuiet =
    quietFrom < quietTo ? time >= quietFrom && time < quietTo : time >= quietFrom || time < quietTo;
  if (!isQuiet) return 0;
  const minutes = minutesOf(quietTo) - minutesOf(time);
  return 60 * (minutes > 0 ? minutes : minutes + 1440);
}

const minutesOf = (time: string): number => Number(time.slice(0, 2)) * 60 + Number(time.slice(3, 5));

/** What a mail rests on, as it is when it is to be sent. */
export interface MailFacts {
  kind: MailKind;
  contact: { hasAddress: boolean; optOut: boolean; archived: boolean };
  orderState: WorkOrderState;
  /** Day the mail speaks of. */
  day: IsoDate;
  /** Day the visit is promised for or planned on now; null: none. */
  visitDay: IsoDate | null;
  today: IsoDate;
  hoursOld: number;
  /** The moment it names for the crew's coming is over. */
  momentOver: boolean;
}

/** On the way and late are told at once or not at all; what was done may wait for a weekend and a mail server. */
const HOURS_OF_USE: Record<MailKind, number> = {
  reminder: 14 * 24,
  on_the_way: 2,
  running_late: 2,
  done: 7 * 24,
};

/** Why a mail is not sent any more; null: it is. */
export function droppedBecause(facts: MailFacts): string | null {
  const { kind, contact, orderState, day, visitDay, today, hoursOld, momentOver } = facts;
  if (contact.optOut) return 'the contact wants no mail';
  if (contact.archived) return 'the contact is archived';
  if (!contact.hasAddress) return 'the contact has no e-mail address';
  if (hoursOld > HOURS_OF_USE[kind]) return 'it comes too late to be of use';
  if (orderState === 'withdrawn') return 'the work was withdrawn';
  if (kind === 'done') return null;
  if (orderState === 'done' || orderState === 'under_way') return 'the crew is there, or has been';
  if (kind !== 'reminder') return momentOver ? 'it comes too late to be of use' : null;
  if (visitDay !== day) return 'the visit is not on that day any more';
  return today >= day ? 'the day has come' : null;
}
