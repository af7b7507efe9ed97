import { isoDate } from '../calendar/isoDate.js';
import type { OwnerSettings } from '../work/settings.js';
import { daysInWords, type Reason } from './dueDateReason.js';

/** A line or a pit of a system, as its own due date says. */
export interface SystemMember {
  id: string;
  /** Null when the client refused. */
  dueDay: number | null;
  /** No visit before it, by the client's decision. */
  notBeforeDay: number | null;
  intervalDays: number | null;
}

export interface SystemDue {
  systemId: string;
  dueDay: number | null;
  /** No visit before it: the latest day to which the client put off a line that comes along; null when none. */
  notBeforeDay: number | null;
  /** Interval of the member that set the day. */
  intervalDays: number | null;
  dueMember: string | null;
  memberIds: string[];
  /** Those the client refused, or postponed beyond the day. */
  leftOutIds: string[];
}

/** All lines of one system are one visit: on the day of the one due first, less those the client keeps out. */
export function dueDateOfSystem(systemId: string, members: readonly SystemMember[]): SystemDue {
  let first: SystemMember | null = null;
  for (const member of members) {
    if (member.dueDay !== null && (first?.dueDay == null || member.dueDay < first.dueDay)) first = member;
  }
  const dueDay = first?.dueDay ?? null;
  const comes = ({ dueDay: day, notBeforeDay }: SystemMember): boolean =>
    dueDay !== null && day !== null && (notBeforeDay === null || notBeforeDay <= dueDay);
  const coming = members.filter((member) => comes(member));
  const putOff = coming.flatMap(({ notBeforeDay }) => (notBeforeDay === null ? [] : [notBeforeDay]));
  return {
    systemId,
    dueDay,
    notBeforeDay: putOff.length === 0 ? null : Math.max(...putOff),
    intervalDays: first?.intervalDays ?? null,
    dueMember: first?.id ?? null,
    memberIds: coming.map(({ id }) => id),
    leftOutIds: members.filter((member) => !comes(member)).map(({ id }) => id),
  };
}

/** Days of a visit that a line comes along on. */
export interface VisitDays {
  /** Day of the line of its system that is due first. */
  leaderDay: number;
  /** Day by which the visit is wanted. */
  wantedDay: number;
  /** Nobody comes before. */
  today: number;
}

/**
 * Why a line is on a visit that comes before its own day: its own reason, which names that day, and that all lines of a
 * system are one visit. What moved the visit itself further is told apart. Of a visit that is late the days are counted
 * from today.
 */
export function along(own: Reason, dueDay: number, { leaderDay, wantedDay, today }: VisitDays): Reason {
  const plannedDay = Math.max(leaderDay, wantedDay);
  const withDay = Math.max(plannedDay, today);
  const daysSooner = dueDay - withDay;
  if (daysSooner <= 0) return own;
  const [dueOn, withOn, wantedBy] = [isoDate(dueDay), isoDate(withDay), isoDate(wantedDay)];
  const [sooner, by] =
    plannedDay < today
      ? [`up to ${daysInWords(daysSooner)} sooner`, `wanted since ${wantedBy}`]
      : [
          `${daysInWords(daysSooner)} sooner`,
          `${wantedDay < withDay ? `first due on ${withOn}; that visit is ` : ''}wanted by ${wantedBy}`,
        ];
  return {
    code: own.code,
    facts: { ...own.facts, dueOn, withOn, wantedBy, daysSooner },
    text: `${own.text} By itself it is due on ${dueOn}; it comes along ${sooner}, because all lines of a system are one visit, ${by}.`,
  };
}

export interface SiteVisit {
  dueDay: number;
  systemIds: string[];
  /** One for each system that comes sooner than its own day. */
  reasons: Reason[];
  /** Days since the site's visit before, when they are so few that the client minds; null otherwise. */
  daysAfterLastTrip: number | null;
}

/**
 * The visits of one site: the system due first leads, another joins when it is due within 45 days of it or half
 * its own interval, whichever is less, and the client did not put it off to a later day; the rest lead visits of their own.
 */
export function siteVisits(
  systems: readonly SystemDue[],
  { visits }: Pick<OwnerSettings, 'visits'>,
): SiteVisit[] {
  const waiting = systems
    .filter((system): system is SystemDue & { dueDay: number } => system.dueDay !== null)
    .sort((a, b) => a.dueDay - b.dueDay || (a.systemId < b.systemId ? -1 : 1));
  const planned: SiteVisit[] = [];
  while (waiting.length > 0) {
    const { dueDay } = waiting[0] ?? { dueDay: 0 };
    const joins = (system: SystemDue & { dueDay: number }): boolean =>
      system.dueDay === dueDay ||
      (system.dueDay - dueDay <= joinWindowDays(system.intervalDays, visits) &&
        (system.notBeforeDay === null || system.notBeforeDay <= dueDay));
    const together = waiting.filter(joins);
    const last = planned.at(-1);
    const apart = last === undefined ? Infinity : dueDay - last.dueDay;
    planned.push({
      dueDay,
      systemIds: together.map(({ systemId }) => systemId),
      reasons: together
        .filter((system) => system.dueDay > dueDay)
        .map((system) => joinReason(system.systemId, system.dueDay - dueDay, dueDay)),
      daysAfterLastTrip: apart < visits.tripsApartDays ? apart : null,
    });
    const rest = waiting.filter((system) => !joins(system));
    waiting.splice(0, waiting.length, ...rest);
  }
  return planned;
}

function joinWindowDays(intervalDays: number | null, visits: OwnerSettings['visits']): number {
  if (intervalDays === null) return visits.joinWithinDays;
  return Math.min(visits.joinWithinDays, visits.joinWithinShareOfInterval * intervalDays);
}

function joinReason(systemId: string, daysSooner: number, dueDay: number): Reason {
  const on = isoDate(dueDay);
  return {
    code: 'joined_visit',
    facts: { systemId, daysSooner, on },
    text: `Comes ${daysInWords(daysSooner)} sooner, with the visit of ${on}: one trip to the house instead of two.`,
  };
}
