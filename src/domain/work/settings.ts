import type { Basement, CallKind, LineKind, TaskKind } from '../words.js';
import type { StandingReceiver } from './waterRules.js';

/**
 * What the owner of the business may set, each number once, with its default.
 *
 * Unless a line names a source, the default is common practice, no source. Local codes and licensed practice
 * come first: an owner changes the number, never the code. Everything else takes these values as an argument.
 */
export interface OwnerSettings {
  limits: LimitSettings;
  yearlyPlugRisk: Record<Basement, number>;
  hardening: HardeningSettings;
  firstIntervals: FirstIntervalSettings;
  growth: GrowthSettings;
  intervals: IntervalSettings;
  wetSeason: WetSeason;
  costs: CostSettings;
  visits: VisitSettings;
  pits: PitSettings;
  surveys: SurveySettings;
  readings: ReadingSettings;
  people: PeopleSettings;
  digs: DigSettings;
  discharge: DischargeSettings;
  consent: ConsentSettings;
  calls: CallSettings;
  telling: TellingSettings;
  routes: RouteSettings;
  papers: PaperSettings;
  keeping: KeepingSettings;
  files: FileSettings;
}

/** How long things are kept. */
export interface KeepingSettings {
  /** Years for which records are kept although a person asks to be erased: by tax law, permit and duty to report. */
  invoiceYears: number;
  dischargeYears: number;
  incidentYears: number;
  /** Events with their webhook deliveries and mails, from the day they were told. */
  eventDays: number;
  /** The list of changes; an app that was away for longer reads everything again. */
  changeDays: number;
  /** What an app brought and waits for so long for what does not come becomes a conflict for the office. */
  waitingDays: number;
  /** What is said by an item of an app that was settled; that it came stays. */
  syncDays: number;
  /** Plans that nobody took, with their routes, from when they were last touched. */
  planDays: number;
  /** Routes in whose place others were driven, from their day; what was tried on one keeps it. */
  replacedRouteDays: number;
  /** What was sent and refused, from when a person settled it; that it came stays. */
  conflictDays: number;
  /** The owner's questions of the kind what-if with their answers, from when they were answered. */
  whatIfDays: number;
}

/** Photographs, clips and documents. */
export interface FileSettings {
  /** What one person, or a key of nobody, may put in a day. */
  megabytesADay: number;
}

/** What stands at the head of every paper; empty: nothing. */
export interface PaperSettings {
  businessName: string;
  officePhone: string;
  businessAddress: string;
  /** Number of the licence or registration under which the business works, for the authority. */
  licence: string;
}

/** What routes are reckoned with. Shares and visits are of `costs.visitMinor`. */
export interface RouteSettings {
  /** No drive between two houses takes less: to load up, get in, park and knock. */
  leastLegMinutes: number;
  /** How long after its shift, or after it would be back, a plan may keep a crew. */
  overtimeMinutes: number;
  /** An hour of overtime costs so many hours of the shift. */
  overtimeFactor: number;
  /** Overtime is kept only where going without would cost so many times its price. */
  overtimeGain: number;
  /** What an hour of a crew costs where its own cost is unknown, in the currency's minor unit. */
  crewHourMinor: number;
  /** What a kilometre costs, in the currency's minor unit. */
  kmMinor: number;
  /** A crew that waits or stands idle for so long is told of where a day is made by hand. */
  idleMinutes: number;
  /** How long a crew's break may be put off. */
  breakLatitudeMinutes: number;
  /** To connect and fill or empty at a depot. */
  refillMinutes: number;
  /** A day past the wanted one costs this share of a visit a line. */
  lateShareADay: number;
  /** What is overdue already grows dearer to let wait, once more a month, up to so many times. */
  overdueFactor: number;
  /** A visit not wanted within the days planned is worth this share of one: it fills a route that passes by. */
  notYetWantedShare: number;
  /** A broken promise costs so many visits. */
  promiseVisits: number;
  /** To move a stop crews rely on, as a share of a visit: to another day, to another crew, … */
  otherDayShare: number;
  otherCrewShare: number;
  /** … to another hour on its route, and the same where somebody must be home or the crew was told its day. */
  otherHourShare: number;
  otherHourToldShare: number;
}

/** Share of the bore's area blocked, 0 to 1. Hydraulics may lower the action limit of a line. */
export interface LimitSettings {
  /** Past it the clean takes more passes. */
  action: Record<LineKind, number>;
  /** For any line under a slab, where it is lower than its kind's. */
  actionUnderSlab: number;
  /** Past it the house floods and the line is traced and dug. */
  plug: number;
}

/** Gel hoses out, crust does not: months until a deposit hardens. */
export interface HardeningSettings {
  softMonthsWet: number;
  softMonthsDry: number;
}

/** Latest day of a visit while a line is new to the service, counted from its last clean. */
export interface FirstIntervalSettings {
  /** First, second, third interval after a plug was opened. */
  afterPlugDays: readonly number[];
  recheckDays: number;
  /** Cleaned from more than this share: recheck. */
  recheckOverBefore: number;
  /** More than this share left after the clean: recheck. */
  recheckOverResidue: number;
  knownOchreDays: number;
  soilUnknownDays: number;
  /** A look at the outlet on the way to the first clean where the soil is unknown. */
  soilUnknownLookDays: number;
  noOchreSeenDays: number;
  /** Ferrous iron in the site's water from which ochre counts as known, mg/L. */
  ochreIronMgL: number;
}

export interface GrowthSettings {
  /** At most this many times the longest interval that ended in a reading found good. */
  factor: number;
  /** Agreeing readings by camera or draw-down before an interval is called needlessly short. */
  readingsForNeedlesslyShort: number;
  /** Those readings must all lie under this share of the action limit. */
  needlesslyShortBelowShareOfAction: number;
}

export interface IntervalSettings {
  minDays: number;
  maxDays: number;
  /** A due date without news moves only by more than this many days … */
  steadyDays: number;
  /** … and by more than this share of the interval. */
  steadyShare: number;
  /** A line counts as over its action limit from this chance on. */
  overLimitChance: number;
}

/** First and last day of the season that fouls most, `MM-DD`; it may run over New Year. */
export interface WetSeason {
  from: string;
  to: string;
}

/** In visits: 1 is an ordinary clean of one line. `visitMinor` turns them into money. */
export interface CostSettings {
  /** What an ordinary visit costs the business, in the currency's minor unit. */
  visitMinor: number;
  /** A plugged line: flood, trace, dig. */
  plugVisits: number;
  /** Added to a visit that finds the line past its action limit: more passes. */
  pastActionVisits: number;
  /** Added per year that the deposit is older than its soft months: crust instead of gel. */
  hardenedVisitsPerYear: number;
}

export interface VisitSettings {
  /** Another system of the site joins a visit when it is due within this many days … */
  joinWithinDays: number;
  /** … or within this share of its own interval, whichever is less. */
  joinWithinShareOfInterval: number;
  /** Two trips to one house within this time lose the client. */
  tripsApartDays: number;
  /** Crews come so many days ahead of the due day, so that rain and calls make nobody late; short of that a heap is spread up to it. */
  aheadDays: number;
  /** A heap of visits is spread over the weeks before it too: each comes at most so many days ahead of its due day … */
  levelDays: number;
  /** … and at most this share of its own interval. */
  levelShareOfInterval: number;
  /** Weeks in which crews are less busy than this share of their hours are left as they are; 1: only more work than hours is spread. */
  levelFromShare: number;
  /** Visits that are late already and in little danger are spread over so many days to come, the worst first … */
  lateSpreadDays: number;
  /** … none beyond the day on which its chance of being past the action limit reaches this. */
  lateActionChance: number;
  /** Share of a crew's hours spent on the road, until its own routes tell: what the weeks ahead are reckoned with. */
  travelShare: number;
}

export interface PitSettings {
  /** Longest time between two tests of a pump, whatever the lines need. */
  testDays: number;
  /** The same where ochre is known: gel on float, intake and check valve. */
  testDaysKnownOchre: number;
  /** The pit is cleared when sludge stands higher than this share of the depth below the intake. */
  sludgeShare: number;
  /** Free volume assumed for a pit nobody measured, litres: the low end of a sump of about 2 ft. */
  assumedFreeVolumeL: number;
}

export interface SurveySettings {
  /** First surveys of lines without a reading, a week, in the whole business. */
  perWeek: number;
}

export interface ReadingSettings {
  /** A pumped line shows nothing at the pump until about this share of its width is gone. */
  pumpedHidesWidthShare: number;
}

export interface PeopleSettings {
  byTask: Record<TaskKind, number>;
  deepPit: number;
  floodedBasement: number;
  night: number;
}

export interface DigSettings {
  /** From backfill to restoration, so that the fill settles. */
  settleDays: number;
  /** A temporary pump is seen to every so many days while it is in. */
  pumpCheckDays: number;
}

/**
 * The firm's standing discharge plan: what is done with flushed water and sludge where nobody knows yet where a line
 * ends. It can name no storm drain, water or sewer: those take water only with a reference of their own.
 */
export interface DischargeSettings {
  receiver: StandingReceiver;
  /** Where that is, in words the crew goes by. */
  place: string;
  /** Where the sludge is taken. */
  sludgeTo: string;
}

export interface ConsentSettings {
  /** A visit more than so many days before the care terms' own day is an early one. */
  earlyFromDays: number;
  /** Early visits a year that need no question at any site; care terms may allow more. */
  earlyVisitsPerYear: number;
  /** Days an asked consent may stay unanswered before a person phones. */
  escalateAfterDays: number;
}

export interface CallSettings {
  respondWithinMinutes: Record<CallKind, number>;
  /** Water in a finished basement: so much of the time. */
  finishedBasementFactor: number;
  /** Rest after a call-out before the next shift starts. */
  restHours: number;
}

/** What clients are told by mail, and when. Mail itself is set up in the environment; without it nothing is sent. */
export interface TellingSettings {
  /** A visit is reminded of from so many days before. */
  reminderDays: number;
  /** Also of visits that are only planned on a day, which the client was not told yet. */
  remindPlanned: boolean;
  /** A promised visit counts as late from so many minutes after its window. */
  lateMinutes: number;
  /** Reminders and what was done wait for the morning; a crew on its way or late is told at once. */
  quietFrom: string;
  quietTo: string;
  mailReminder: boolean;
  mailOnTheWay: boolean;
  mailRunningLate: boolean;
  mailDone: boolean;
}

export const DEFAULT_SETTINGS: OwnerSettings = {
  // Common practice, no source. A pumped line and a line under a slab have least to spare.
  limits: {
    action: { sump_discharge: 0.4, footing_drain: 0.45, floor_drain: 0.45, yard_drain: 0.55 },
    actionUnderSlab: 0.4,
    plug: 0.9,
  },
  // Chance of passing the plug limit per line and year. Common practice, no source; unknown as a plain basement.
  yearlyPlugRisk: { finished: 0.02, basement: 0.05, none: 0.1, unknown: 0.05 },
  // Common practice, no source.
  hardening: { softMonthsWet: 6, softMonthsDry: 3 },
  // Common practice, no source; the iron limit is recalled from the Ford scale ("negligible" below .5), low confidence.
  firstIntervals: {
    afterPlugDays: [30, 60, 90],
    recheckDays: 30,
    recheckOverBefore: 0.5,
    recheckOverResidue: 0.2,
    knownOchreDays: 90,
    soilUnknownDays: 180,
    soilUnknownLookDays: 90,
    noOchreSeenDays: 365,
    ochreIronMgL: 0.5,
  },
  // Common practice, no source.
  growth: { factor: 1.5, readingsForNeedlesslyShort: 3, needlesslyShortBelowShareOfAction: 0.5 },
  // Common practice, no source. 3 days and 5 %: a client's card is not worth reprinting for less.
  intervals: { minDays: 14, maxDays: 730, steadyDays: 3, steadyShare: 0.05, overLimitChance: 0.5 },
  // Snow melt and spring rain in a northern climate. Common practice, no source.
  wetSeason: { from: '03-01', to: '05-31' },
  // 25 visits for a dig-up is the ratio the replay benchmark uses; the rest is common practice, no source.
  costs: { visitMinor: 30_000, plugVisits: 25, pastActionVisits: 0.5, hardenedVisitsPerYear: 0.5 },
  // Common practice, no source.
  visits: {
    joinWithinDays: 45,
    joinWithinShareOfInterval: 0.5,
    tripsApartDays: 42,
    aheadDays: 14,
    levelDays: 21,
    levelShareOfInterval: 0.25,
    levelFromShare: 0.05,
    lateSpreadDays: 42,
    lateActionChance: 0.02,
    travelShare: 0.25,
  },
  // Volume: 15 gal of 15 to 25 in a sump about 2 ft wide (NDSU Extension, 2005). The rest: common practice.
  pits: { testDays: 365, testDaysKnownOchre: 90, sludgeShare: 0.5, assumedFreeVolumeL: 57 },
  // Common practice, no source.
  surveys: { perWeek: 20 },
  // Common practice, no source.
  readings: { pumpedHidesWidthShare: 0.2 },
  // Common practice, no source: two for jetting, digs, deep pits, flooded basements and nights.
  people: {
    byTask: {
      survey: 1,
      inspect: 1,
      test_pump: 1,
      hose_flush: 1,
      jet: 2,
      clear_pit: 1,
      clear_outlet: 1,
      replace_outlet: 1,
      cable: 1,
      trace: 1,
      temporary_pump: 1,
      dig_and_replace: 2,
      add_cleanout: 2,
      restore: 1,
      fit_alarm: 1,
      fit_pump: 1,
    },
    deepPit: 2,
    floodedBasement: 2,
    night: 2,
  },
  // Common practice, no source.
  digs: { settleDays: 42, pumpCheckDays: 1 },
  // Common practice, no source; local codes govern.
  discharge: {
    receiver: 'own_ground',
    place:
      'ground of the site that takes it, away from the house, neighbours, storm drains and open water; where none does, into the tank',
    sludgeTo: 'caught at the opening, taken to a place that accepts it',
  },
  // Common practice, no source.
  consent: { earlyFromDays: 14, earlyVisitsPerYear: 0, escalateAfterDays: 3 },
  // Common practice, no source.
  calls: {
    respondWithinMinutes: {
      water_rising: 120,
      alarm: 240,
      pump_without_flow: 240,
      power_out: 240,
      orange_stain: 5 * 24 * 60,
      other: 2 * 24 * 60,
    },
    finishedBasementFactor: 0.5,
    restHours: 10,
  },
  // Common practice, no source; 1.5 is what most labour law asks for (from memory). A late day weighs 3 %: the client notices before the line plugs.
  routes: {
    leastLegMinutes: 2,
    overtimeMinutes: 60,
    overtimeFactor: 1.5,
    overtimeGain: 1,
    crewHourMinor: 9_000,
    kmMinor: 60,
    idleMinutes: 60,
    breakLatitudeMinutes: 90,
    refillMinutes: 15,
    lateShareADay: 0.03,
    overdueFactor: 4,
    notYetWantedShare: 0.1,
    promiseVisits: 3,
    otherDayShare: 0.15,
    otherCrewShare: 0.05,
    otherHourShare: 0.01,
    otherHourToldShare: 0.03,
  },
  papers: { businessName: '', officePhone: '', businessAddress: '', licence: '' },
  // Some 300 photographs and ten clips of 100 MB (common practice, no source).
  files: { megabytesADay: 2000 },
  // From memory: discharge monitoring 3 years and sludge 5 (40 CFR 122.41(j)), injuries 5 (29 CFR 1904.33), invoices 3 to 10 by country. Local law comes first.
  keeping: {
    invoiceYears: 7,
    dischargeYears: 5,
    incidentYears: 5,
    eventDays: 400,
    changeDays: 90,
    waitingDays: 14,
    syncDays: 400,
    planDays: 30,
    replacedRouteDays: 400,
    conflictDays: 90,
    whatIfDays: 400,
  },
  // Common practice, no source.
  telling: {
    reminderDays: 2,
    remindPlanned: true,
    lateMinutes: 15,
    quietFrom: '20:00',
    quietTo: '07:00',
    mailReminder: true,
    mailOnTheWay: true,
    mailRunningLate: true,
    mailDone: true,
  },
};

/** A hundred years: what lies further back or ahead is no day that a database or a calendar reckons with. */
export const MOST_DAYS = 36_500;
export const MOST_YEARS = 100;

/** The most that a setting of this name may be, where it counts days or years; null: it counts something else. */
export function mostOfTime(name: string): number | null {
  if (/Days/.test(name)) return MOST_DAYS;
  return /Years$/.test(name) ? MOST_YEARS : null;
}

/** Some groups, and of each some numbers, as an owner changes them. */
export type SettingChanges = { [Group in keyof OwnerSettings]?: PartialDeep<OwnerSettings[Group]> };

type PartialDeep<T> = T extends readonly unknown[]
  ? T
  : T extends object
    ? { [Key in keyof T]?: PartialDeep<T[Key]> }
    : T;

/** The settings with the owner's changes in them, no time longer than a hundred years; a list is replaced as a whole. */
export function settingsWith(changes: SettingChanges, settings = DEFAULT_SETTINGS): OwnerSettings {
  return merged(settings, changes) as OwnerSettings;
}

function merged(base: unknown, change: unknown): unknown {
  if (change === undefined) return base;
  if (!isGroup(base) || !isGroup(change)) return change;
  const result: Record<string, unknown> = { ...base };
  for (const [key, value] of Object.entries(change)) {
    if (!Object.hasOwn(base, key)) throw new RangeError(`no such setting: ${key}`);
    const most = mostOfTime(key);
    result[key] =
      most !== null && typeof value === 'number' ? Math.min(value, most) : merged(base[key], value);
  }
  return result;
}

function isGroup(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
