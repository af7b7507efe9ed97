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
  /** Work begins within so many calendar days of the call, or the ticket is void. */
  startWithinDays: number | null;
  /** Dates of the holidays the law names. */
  holidays: readonly IsoDate[];
}

/** A moment as the local clock shows it. */
export interface LocalMoment {
  day: IsoDate;
  /** Since midnight, 0 to 1440. */
  minute: number;
}

export interface TicketDays {
  /** From when one may dig. */
  from: LocalMoment;
  /** First day that is free from its beginning, or from the moment above on that day. */
  firstDay: IsoDate;
  /** Last day of the ticket; null where the rule knows no end. */
  lastDay: IsoDate | null;
  /** Last day to begin; null where the rule says nothing. */
  beginBy: IsoDate | null;
}

const DAY_MINUTES = 1440;

/**
 * When one may dig after a call, and until when.
 *
 * Business-day notice: the call counts as made on the next business day where it came on none, and digging starts on
 * the business day after the last full one. An emergency is dug at once, with every care: the ticket is called anyway.
 */
export function ticketDays(rule: LocateRule, called: LocalMoment, emergency: boolean): TicketDays {
  const from = emergency ? called : digFrom(rule, called);
  const lastDay = lastDayOf(rule, called.day, from.day);
  return {
    from,
    firstDay: from.day,
    lastDay,
    beginBy: rule.startWithinDays === null ? null : addDays(called.day, rule.startWithinDays),
  };
}

function digFrom(rule: LocateRule, called: LocalMoment): LocalMoment {
  const { notice, noticeUnit, callDayCounts, holidays } = rule;
  switch (noticeUnit) {
    case 'calendar_day':
      return { day: addDays(called.day, callDayCounts ? notice : notice + 1), minute: 0 };
    case 'business_day': {
      const first = nextBusinessDay(called.day, holidays);
      return { day: addBusinessDays(first, callDayCounts ? notice : notice + 1, holidays), minute: 0 };
    }
    case 'hour': {
      const start = callDayCounts ? called : { day: addDays(called.day, 1), minute: 0 };
      const minutes = start.minute + notice * 60;
      return { day: addDays(start.day, Math.floor(minutes / DAY_MINUTES)), minute: minutes % DAY_MINUTES };
    }
    case 'business_hour':
      return businessHours(rule, called);
    default:
      return noticeUnit satisfies never;
  }
}

/** Twenty-four hours of each business day run, none of the others. */
function businessHours({ notice, callDayCounts, holidays }: LocateRule, called: LocalMoment): LocalMoment {
  const onBusinessDay = isBusinessDay(called.day, holidays);
  let at: LocalMoment =
    callDayCounts && onBusinessDay
      ? called
      : { day: nextBusinessDay(onBusinessDay ? addDays(called.day, 1) : called.day, holidays), minute: 0 };
  let left = notice * 60;
  while (left >= DAY_MINUTES - at.minute) {
    left -= DAY_MINUTES - at.minute;
    at = { day: nextBusinessDay(addDays(at.day, 1), holidays), minute: 0 };
  }
  return { day: at.day, minute: at.minute + left };
}

function lastDayOf(rule: LocateRule, calledOn: IsoDate, firstDay: IsoDate): IsoDate | null {
  const { life, lifeUnit, lifeFrom, lifeCountsFirst, holidays } = rule;
  if (life === null || lifeUnit === null) return null;
  const from = lifeFrom === 'call' ? calledOn : firstDay;
  const days = lifeCountsFirst ? life - 1 : life;
  return lifeUnit === 'calendar_day' ? addDays(from, days) : addBusinessDays(from, days, holidays);
}

/** A rule as far as it could be read from a state's centre; what is missing the owner looks up. */
export interface LocateTemplate extends Partial<LocateRule> {
  code: string;
  name: string;
  source: string;
  /** What must be filled in before it can be used. */
  missing: readonly string[];
  /** Distance of hand digging each side of a mark; null where not read. */
  handDigMm: number | null;
}

const base = { lifeFrom: 'call', lifeCountsFirst: false, startWithinDays: null, holidays: [] } as const;
const HOLIDAYS = 'holidays';

/**
 * Read once from the named pages and perhaps changed since: each is confirmed against local law by the owner before
 * it rules anything.
 */
export const LOCATE_TEMPLATES: readonly LocateTemplate[] = [
  {
    ...base,
    code: 'us_default',
    name: 'Federal default where local law sets none',
    notice: 24,
    noticeUnit: 'hour',
    callDayCounts: true,
    life: null,
    lifeUnit: null,
    handDigMm: null,
    missing: ['life', HOLIDAYS],
    source: '29 CFR 1926.651(b)(2)',
  },
  {
    ...base,
    code: 'michigan',
    name: 'Michigan',
    notice: 3,
    noticeUnit: 'business_day',
    callDayCounts: false,
    life: null,
    lifeUnit: null,
    handDigMm: 48 * 25.4,
    missing: ['callDayCounts', 'life', HOLIDAYS],
    source: 'Michigan PSC, damage prevention; MCL 460.723',
  },
  {
    ...base,
    code: 'minnesota',
    name: 'Minnesota',
    notice: 48,
    noticeUnit: 'business_hour',
    callDayCounts: false,
    life: null,
    lifeUnit: null,
    startWithinDays: 14,
    handDigMm: null,
    missing: ['life', HOLIDAYS],
    source: 'Minn. Stat. 216D.04 subd. 1',
  },
  {
    ...base,
    code: 'nebraska',
    name: 'Nebraska',
    life: 17,
    lifeUnit: 'calendar_day',
    lifeFrom: 'first_day',
    handDigMm: null,
    missing: ['notice', 'noticeUnit', 'callDayCounts', HOLIDAYS],
    source: 'Nebraska one-call centre, ticket life',
  },
  {
    ...base,
    code: 'illinois',
    name: 'Illinois',
    life: 28,
    lifeUnit: 'calendar_day',
    lifeCountsFirst: true,
    handDigMm: null,
    missing: ['notice', 'noticeUnit', 'callDayCounts', HOLIDAYS],
    source: 'Illinois one-call centre, ticket life (older copy)',
  },
  {
    ...base,
    code: 'south_carolina',
    name: 'South Carolina',
    notice: 3,
    noticeUnit: 'business_day',
    callDayCounts: false,
    life: 15,
    lifeUnit: 'business_day',
    lifeFrom: 'first_day',
    handDigMm: null,
    missing: ['callDayCounts', HOLIDAYS],
    source: 'South Carolina one-call centre, life of a locate',
  },
  {
    ...base,
    code: 'alabama',
    name: 'Alabama',
    notice: 2,
    noticeUnit: 'business_day',
    callDayCounts: false,
    life: 20,
    lifeUnit: 'business_day',
    handDigMm: null,
    missing: ['callDayCounts', 'lifeFrom', HOLIDAYS],
    source: 'Alabama one-call centre, life of ticket',
  },
];

export const PRIVATE_LINES_CAUTION =
  'Private lines (sump discharge, yard drains, lighting, pet fence, propane) are usually not marked. No marks is not no lines.';

export interface UtilityOnTicket {
  name: string;
  answer: UtilityAnswer;
}

export interface TicketSeen {
  utilities: readonly UtilityOnTicket[];
  marksSeen: boolean;
  privateLinesLocated: boolean;
  emergency: boolean;
}

/** What still keeps a crew from digging; empty: it may, within the ticket's days. */
export function ticketOpen({ utilities, marksSeen, privateLinesLocated, emergency }: TicketSeen): string[] {
  const open: string[] = [];
  if (utilities.length === 0) open.push('no utility is on the ticket');
  // An emergency is dug by hand before the answers are in; private lines are looked for all the same.
  if (!emergency)
    for (const { name, answer } of utilities) if (answer === 'none') open.push(`${name} has not answered`);
  if (!marksSeen && utilities.some(({ answer }) => answer === 'marked')) open.push('the marks were not seen');
  if (!privateLinesLocated) open.push('private lines were not located');
  return open;
}

/** Whether a ticket must be called again now, so that the new one is good before the old one ends. */
export function mustRenew(lastDay: IsoDate | null, today: IsoDate, rule: LocateRule): boolean {
  if (lastDay === null) return false;
  const renewed = ticketDays(rule, { day: today, minute: 12 * 60 }, false).firstDay;
  return daysBetween(renewed, lastDay) <= 0;
}

/** Taken where a state's distance is not known: 24 in each side of a mark. Common practice, no source. */
const USUAL_HAND_DIG_MM = 610;

/** Whether a place this far from a mark is exposed by hand. */
export const mustHandDig = (distanceMm: number, handDigMm: number | null): boolean =>
  distanceMm <= (handDigMm ?? USUAL_HAND_DIG_MM);
