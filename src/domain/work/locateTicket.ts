import type { BusinessZone } from '../calendar/businessZone.js';
import { addDays, daysBetween, type IsoDate } from '../calendar/isoDate.js';
import type { LifeFrom, LifeUnit, NoticeUnit, UtilityAnswer } from '../words.js';
import { addBusinessDays, isBusinessDay, nextBusinessDay } from './businessDays.js';

/**
 * How a one-call law counts. Every number is the owner's, confirmed against local law: rules differ by state and
 * change; private lines are usually not marked.
 */
export interface LocateRule {
  notice: number;
  noticeUnit: NoticeUnit;
  /** Whether the day of the call is the first of the notice. */
  callDayCounts: boolean;
  /** How long a ticket lives; null: no end known, the owner watches it. */
  life: number | null;
  lifeUnit: LifeUnit | null;
  /** Counted from the call, or from the first day one may dig. */
  lifeFrom: LifeFrom;
  /** Whether the day it is counted from is the first of the life. */
  lifeCountsFirst: boolean;
  /** Work begins within so many days of the call, or the ticket is void. */
  startWithinDays: number | null;
  startWithinUnit: LifeUnit;
  /** Dates of the holidays the law names. */
  holidays: readonly IsoDate[];
}

export interface TicketDays {
  /** From when one may dig. */
  from: Date;
  /** Local day of that moment: free from its beginning, or from the moment on. */
  firstDay: IsoDate;
  /** Last day of the ticket; null where the rule knows no end. */
  lastDay: IsoDate | null;
  /** Last day to begin; null where the rule says nothing. */
  beginBy: IsoDate | null;
}

/** Which local day an instant lies on, and when a local day begins. */
type Zone = Pick<BusinessZone, 'dayOf' | 'instantOf'>;

const HOUR_MS = 3_600_000;

/**
 * When one may dig after a call, and until when. Hours are hours passed, whatever the clocks do meanwhile; days are
 * local days.
 *
 * Business-day notice: the call counts as made on the next business day where it came on none, and digging starts on
 * the business day after the last full one. An emergency is dug at once, with every care: the ticket is called anyway.
 */
export function ticketDays(rule: LocateRule, calledAt: Date, zone: Zone, emergency: boolean): TicketDays {
  const called = zone.dayOf(calledAt);
  const from = emergency ? calledAt : digFrom(rule, calledAt, zone);
  const firstDay = zone.dayOf(from);
  const { startWithinDays, startWithinUnit } = rule;
  const lastDay = lastDayOf(rule, called, firstDay);
  const days = {
    from,
    firstDay,
    lastDay,
    beginBy: startWithinDays === null ? null : daysOn(called, startWithinDays, startWithinUnit, rule),
  };
  return emergency ? { ...days, ...emergencyDays(called, lastDay) } : days;
}

/** An emergency is over in a day or two: what is dug later is dug on a ticket with notice. Common practice, no source. */
const EMERGENCY_DAYS = 1;

function emergencyDays(called: IsoDate, lastDay: IsoDate | null): Pick<TicketDays, 'lastDay' | 'beginBy'> {
  const over = addDays(called, EMERGENCY_DAYS);
  return { lastDay: lastDay !== null && lastDay < over ? lastDay : over, beginBy: null };
}

/** An order as far as it shows whether its dig is an emergency. */
export interface UrgentDig {
  because: string;
  notBefore: IsoDate | null;
  wantedBy: IsoDate | null;
}

const WORD = /\p{Script=Han}|\p{L}{2,}/gu;

/**
 * Why a dig is no emergency; null: it may be one. A one-call law means danger to life, health or property, or a
 * service that is out: such a dig does not wait for a day, and its reason says what is in danger. A misused emergency
 * ticket is fined.
 */
export function noEmergency({ because, notBefore, wantedBy }: UrgentDig, called: IsoDate): string | null {
  if ((because.match(WORD) ?? []).length < 2) return `"${because}" does not say what is in danger`;
  const over = addDays(called, EMERGENCY_DAYS);
  if (notBefore !== null && notBefore > over) return `the order comes not before ${notBefore}`;
  if (wantedBy !== null && wantedBy > over) return `the order is wanted by ${wantedBy}`;
  return null;
}

function digFrom(rule: LocateRule, calledAt: Date, zone: Zone): Date {
  const { notice, noticeUnit, callDayCounts, holidays } = rule;
  const called = zone.dayOf(calledAt);
  const days = callDayCounts ? notice : notice + 1;
  switch (noticeUnit) {
    case 'calendar_day':
      return zone.instantOf(addDays(called, days), 0);
    case 'business_day':
      return zone.instantOf(addBusinessDays(nextBusinessDay(called, holidays), days, holidays), 0);
    case 'hour':
      return new Date(
        (callDayCounts ? calledAt : zone.instantOf(addDays(called, 1), 0)).getTime() + notice * HOUR_MS,
      );
    case 'business_hour':
      return businessHours(rule, calledAt, zone);
    default:
      return noticeUnit satisfies never;
  }
}

/** Every hour of each business day runs, none of the others. */
function businessHours({ notice, callDayCounts, holidays }: LocateRule, calledAt: Date, zone: Zone): Date {
  const called = zone.dayOf(calledAt);
  const onBusinessDay = isBusinessDay(called, holidays);
  let day = called;
  let at = calledAt.getTime();
  const goOn = (from: IsoDate) => {
    day = nextBusinessDay(from, holidays);
    at = zone.instantOf(day, 0).getTime();
  };
  if (!callDayCounts || !onBusinessDay) goOn(onBusinessDay ? addDays(called, 1) : called);
  let left = notice * HOUR_MS;
  for (;;) {
    const rest = zone.instantOf(addDays(day, 1), 0).getTime() - at;
    if (left < rest) return new Date(at + left);
    left -= rest;
    goOn(addDays(day, 1));
  }
}

function lastDayOf(rule: LocateRule, called: IsoDate, firstDay: IsoDate): IsoDate | null {
  const { life, lifeUnit, lifeFrom, lifeCountsFirst } = rule;
  if (life === null || lifeUnit === null) return null;
  return daysOn(lifeFrom === 'call' ? called : firstDay, lifeCountsFirst ? life - 1 : life, lifeUnit, rule);
}

const daysOn = (day: IsoDate, count: number, unit: LifeUnit, { holidays }: LocateRule): IsoDate =>
  unit === 'calendar_day' ? addDays(day, count) : addBusinessDays(day, count, holidays);

/** A rule that counts business days, and lists no holiday: every one would count as a business day. */
export function listsNoHolidays(
  rule: Pick<LocateRule, 'noticeUnit' | 'lifeUnit' | 'startWithinDays' | 'startWithinUnit' | 'holidays'>,
): boolean {
  const counts =
    isBusiness(rule.noticeUnit) ||
    rule.lifeUnit === 'business_day' ||
    (rule.startWithinDays !== null && rule.startWithinUnit === 'business_day');
  return counts && rule.holidays.length === 0;
}

const isBusiness = (unit: NoticeUnit): boolean => unit === 'business_day' || unit === 'business_hour';

/**
 * Years that a notice of business days runs through and of which the rule lists no holiday: one may not dig as early
 * as it reckons. A life that runs past the list only ends the sooner.
 */
export function yearsUnlisted(rule: LocateRule, called: IsoDate, firstDay: IsoDate): number[] {
  if (!isBusiness(rule.noticeUnit)) return [];
  const listed = new Set(rule.holidays.map(yearOf));
  const years: number[] = [];
  for (let year = yearOf(called); year <= yearOf(firstDay); year++) if (!listed.has(year)) years.push(year);
  return years;
}

const yearOf = (day: IsoDate): number => Number(day.slice(0, 4));

export const PRIVATE_LINES_CAUTION =
  'Private lines (sump discharge, yard drains, lighting, pet fence, propane) are usually not marked. No marks is not no lines.';

export interface UtilityOnTicket {
  name: string;
  answer: UtilityAnswer;
  /** Null: not yet. */
  answeredAt: string | null;
}

export interface TicketSeen {
  utilities: readonly UtilityOnTicket[];
  /** When the crew last looked at the marks; null: not yet. */
  marksSeenAt: string | null;
  privateLinesLocated: boolean;
  emergency: boolean;
}

/** Who has not answered: where their lines may lie an emergency is dug by hand or vacuum only. */
export const silentOn = (utilities: readonly UtilityOnTicket[]): string[] =>
  utilities.filter(({ answer }) => answer === 'none').map(({ name }) => name);

/** What still keeps a crew from digging; empty: it may, within the ticket's days. */
export function ticketOpen({ utilities, marksSeenAt, privateLinesLocated, emergency }: TicketSeen): string[] {
  const open: string[] = [];
  if (utilities.length === 0) open.push('no utility is on the ticket');
  // An emergency is dug by hand before the answers are in; private lines are looked for all the same.
  if (!emergency) for (const name of silentOn(utilities)) open.push(`${name} has not answered`);
  const marked = utilities.filter(({ answer }) => answer === 'marked');
  if (marksSeenAt === null) {
    if (marked.length > 0) open.push('the marks were not seen');
  } else
    for (const { name, answeredAt } of marked)
      if (answeredAt !== null && Date.parse(answeredAt) > Date.parse(marksSeenAt))
        open.push(`${name} marked after the marks were seen: see its marks`);
  if (!privateLinesLocated) open.push('private lines were not located');
  return open;
}

const NOON_S = 12 * 3600;

/** Whether a ticket must be called again now, so that the new one is good before the old one ends. */
export function mustRenew(lastDay: IsoDate | null, today: IsoDate, rule: LocateRule, zone: Zone): boolean {
  if (lastDay === null) return false;
  const renewed = ticketDays(rule, zone.instantOf(today, NOON_S), zone, false).firstDay;
  return daysBetween(renewed, lastDay) <= 0;
}

/** Taken where a state's distance is not known: 24 in each side of a mark. Common practice, no source. */
export const USUAL_HAND_DIG_MM = 24 * 25.4;
