import type { LocateRule } from './locateTicket.js';

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

const base = {
  lifeFrom: 'call',
  lifeCountsFirst: false,
  startWithinDays: null,
  startWithinUnit: 'calendar_day',
  holidays: [],
} as const;
const HOLIDAYS = 'holidays';
const HAND_DIG = 'handDig';

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
    missing: ['life', HOLIDAYS, HAND_DIG],
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
    missing: ['life', HOLIDAYS, HAND_DIG],
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
    missing: ['notice', 'noticeUnit', 'callDayCounts', HOLIDAYS, HAND_DIG],
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
    missing: ['notice', 'noticeUnit', 'callDayCounts', HOLIDAYS, HAND_DIG],
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
    // "Begins three working days after the request and extends 15": its first day is taken as one of them.
    lifeCountsFirst: true,
    // Notice of at most twelve working days: S.C. Code 58-36-60 (from memory, unverified).
    startWithinDays: 12,
    startWithinUnit: 'business_day',
    handDigMm: null,
    missing: ['callDayCounts', 'lifeCountsFirst', 'startWithinDays', HOLIDAYS, HAND_DIG],
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
    lifeCountsFirst: true,
    // Notice of 2 to 10 working days: the work begins on the tenth at the latest.
    startWithinDays: 10,
    startWithinUnit: 'business_day',
    handDigMm: null,
    missing: ['callDayCounts', 'lifeFrom', 'lifeCountsFirst', HOLIDAYS, HAND_DIG],
    source: 'Alabama one-call centre, life of ticket',
  },
];
