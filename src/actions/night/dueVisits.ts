import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { type FirstSurvey, isFirstSurvey, levelFirstSurveys } from '../../domain/fouling/dueDateLevelling.js';
import { dueDateOfSystem, type SystemDue, siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import { type DueRule, daysInWords, percent, type Reason } from '../../domain/fouling/dueDateReason.js';
import { systemConsequence } from '../../domain/fouling/policy.js';
import type { JetMeans } from '../../domain/jetting/orderJet.js';
import type { Basement, LineKind } from '../../domain/words.js';
import { type ComingVisit, type LevelWeek, levelLoad } from '../../domain/work/levelLoad.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { type PlannedVisit, planVisit } from '../../domain/work/visitTasks.js';
import { dangerADay, type LineDanger, soonerADay } from '../../domain/work/waitingCost.js';
import type { Row } from '../ports.js';
import { mondayOf } from '../reports/dueWeeks.js';
import { visitLine } from '../workLife/visitLine.js';

/** Orders are made this long before their day: time to tell the client (common practice, no source). */
export const LEAD_DAYS = 21;
/** A client is told at least so long before a visit that comes sooner (common practice, no source). */
const NOTICE_DAYS = 7;

/** What visits come out of; days are day numbers. */
export interface VisitsAsk {
  today: number;
  /** Lines in service that no open order works on, each with its row of `trend`. */
  lines: readonly Row[];
  /** First surveys given a day before, whose places in the weeks are taken. */
  given: readonly FirstSurvey[];
  /** By system, pits that no open order works on. */
  pits: ReadonlyMap<string, string>;
  settings: OwnerSettings;
  means: JetMeans;
  /** Absent: visits stay on their due days. */
  level?: LevelAsk;
  /** Visits due within so many days are answered; absent: as long ahead as orders are made. */
  leadDays?: number;
}

/** The weeks ahead and what is on orders already. */
export interface LevelAsk {
  weeks: readonly LevelWeek[];
  fixed: readonly ComingVisit[];
  /** Share of a crew's hours spent on the road. */
  travelShare: number;
}

export interface DueVisit {
  siteId: string;
  systemIds: string[];
  cause: 'first_survey' | 'due';
  lines: Row[];
  planned: PlannedVisit;
  notBeforeDay: number;
  /** The day it is due, at least today. */
  dueDay: number;
  /** The day it is due or levelled to; where it is late and does not wait, the day it was due. */
  wantedDay: number;
  /** The day it is planned for: some days ahead of its due day, or where the weeks have room. */
  plannedDay: number;
  /** Where it is late the day it was due, else the day it is due. */
  dueSinceDay: number;
  /** Days of the site's visits before and after this one; null: none in sight. */
  beside: { before: number | null; after: number | null };
  /** What made systems join, or the visit come sooner or later. */
  joined: readonly Reason[];
}

/**
 * The visits to be ordered on a day, site by site: one visit a system, systems of a site together where near, first
 * surveys levelled over weeks, the weeks as even as can be (`levelLoad`). `ahead` counts those of the lines asked that
 * it is too soon to order.
 */
export function dueVisits(ask: VisitsAsk): { visits: DueVisit[]; ahead: number } {
  const leadDay = ask.today + (ask.leadDays ?? LEAD_DAYS);
  const lastDay = Math.max(leadDay, lastLevelled(ask) + ask.settings.visits.aheadDays);
  const { coming, ahead } = comingVisits(ask, lastDay);
  const days = levelled(ask, coming);
  const visits: DueVisit[] = [];
  let later = ahead;
  for (const visit of coming) {
    const day = days.get(idOf(visit));
    const moved = day === undefined ? visit : movedTo(visit, day, ask);
    // What is late and waits is ordered at once: its day stands, and no night puts it off again.
    const usualDay = day === undefined ? moved.dueDay : mondayOf(day) + ask.settings.visits.aheadDays;
    if (Math.min(moved.wantedDay, usualDay) > leadDay && !isLate(visit, ask.today)) later++;
    else visits.push(moved);
  }
  return { visits, ahead: later };
}

function comingVisits(ask: VisitsAsk, lastDay: number): { coming: DueVisit[]; ahead: number } {
  const { today, lines, settings } = ask;
  const surveyDays = surveyDaysOf(ask);
  const coming: DueVisit[] = [];
  let ahead = 0;
  for (const [siteId, siteLines] of grouped(lines, 'site_id')) {
    const systems = systemsDue(siteLines, today, surveyDays);
    const ofSite = siteVisits(systems, settings);
    for (const [at, visit] of ofSite.entries()) {
      if (visit.dueDay > lastDay) {
        ahead++;
        continue;
      }
      const members = new Set(
        systems
          .filter(({ systemId }) => visit.systemIds.includes(systemId))
          .flatMap(({ memberIds }) => memberIds),
      );
      const own = siteLines.filter((line) => members.has(String(line['id'])));
      const planned = planVisit(own.map(visitLine), pitsOf(visit.systemIds, ask.pits), settings, ask.means);
      if (planned.tasks.length === 0) continue;
      const cause = own.every((line) => isSurvey(line, today)) ? 'first_survey' : 'due';
      // A visit that is late says since when; before today nobody can come.
      const wantedDay = Math.min(visit.dueDay, ...(cause === 'due' ? missedDays(own, today) : []));
      coming.push({
        siteId,
        systemIds: visit.systemIds,
        cause,
        lines: own,
        planned,
        dueDay: visit.dueDay,
        notBeforeDay: Math.min(wantedDay, visit.dueDay - settings.visits.aheadDays),
        wantedDay,
        plannedDay:
          cause === 'first_survey' ? visit.dueDay : Math.max(today, visit.dueDay - settings.visits.aheadDays),
        dueSinceDay: wantedDay,
        beside: { before: ofSite[at - 1]?.dueDay ?? null, after: ofSite[at + 1]?.dueDay ?? null },
        joined: visit.reasons,
      });
    }
  }
  return { coming, ahead };
}

const idOf = ({ siteId, systemIds }: DueVisit): string => `${siteId} ${systemIds[0] ?? ''}`;

const WEEK_DAYS = 7;
const lastLevelled = ({ level }: VisitsAsk): number => {
  const monday = level?.weeks.at(-1)?.mondayDay;
  return monday === undefined ? 0 : monday + WEEK_DAYS - 1;
};

/** Within so many days from today what is due counts for the weeks evened out. */
export const daysInSight = (level: LevelAsk, today: number, { visits }: OwnerSettings): number =>
  Math.max(LEAD_DAYS, (level.weeks.at(-1)?.mondayDay ?? today) + WEEK_DAYS - 1 - today + visits.aheadDays);

/** Days of visits that come sooner or wait, so that weeks are even. First surveys have been levelled. */
function levelled({ today, settings, level }: VisitsAsk, coming: readonly DueVisit[]): Map<string, number> {
  if (!level || !canLevel(level)) return new Map();
  const free = coming.map((visit): ComingVisit => {
    const late = isLate(visit, today);
    const fixed = visit.cause === 'first_survey';
    const ownDay = visit.plannedDay;
    return {
      id: idOf(visit),
      hours: crewHours(visit.planned.minutes, level.travelShare),
      ownDay,
      earliestDay: fixed || late ? ownDay : earliestDay(visit, today, settings),
      latestDay: fixed ? ownDay : late ? latestIfLate(visit, today, settings) : latestDay(visit),
      late,
      costADay: late ? dangerADay(dangerOf(visit), settings) : soonerADay(intervalsOf(visit), settings),
      fixed,
    };
  });
  return levelLoad([...level.fixed, ...free], level.weeks, settings.visits.levelFromShare);
}

const isLate = ({ cause, dueSinceDay }: DueVisit, today: number): boolean =>
  cause === 'due' && dueSinceDay < today;

/** Where nobody works there is nothing to level against. */
export const canLevel = ({ weeks }: LevelAsk): boolean =>
  weeks.some(({ capacityHours }) => capacityHours > 0);

/** A visit on an order: it keeps its day. */
export const fixedVisit = (id: string, hours: number, day: number): ComingVisit => ({
  id,
  hours,
  ownDay: day,
  earliestDay: day,
  latestDay: day,
  late: false,
  costADay: 0,
  fixed: true,
});

/** Hours of a crew that a visit takes, the way there included. */
export const crewHours = (minutes: number, travelShare: number): number => minutes / 60 / (1 - travelShare);

/**
 * By the terms' own date the client need not be asked as long as the visit does not count as early. Another trip to the
 * house is not drawn nearer than clients like.
 */
function earliestDay(visit: DueVisit, today: number, { visits, consent }: OwnerSettings): number {
  const byTerms = visit.lines.some((line) => trendOf(line)['due_rule'] === 'care_terms');
  const slack = Math.floor(
    Math.min(
      visits.levelDays,
      byTerms ? Math.max(0, consent.earlyFromDays - 1) : Infinity,
      ...intervalsOf(visit).map((days) => days * visits.levelShareOfInterval),
    ),
  );
  const decided = visit.lines.flatMap((line) => {
    const { notBefore, openFrom } = aheadOf(line);
    return [notBefore, openFrom].flatMap((day) => (day ? [dayNumber(day)] : []));
  });
  const { before } = visit.beside;
  const trip = before === null ? [] : [before + visits.tripsApartDays];
  return Math.min(visit.plannedDay, Math.max(today + NOTICE_DAYS, visit.dueDay - slack, ...decided, ...trip));
}

const IN_DANGER: ReadonlySet<unknown> = new Set<DueRule>(['over_limit', 'after_plug', 'recheck', 'risk']);

/** In its last week crews have more than a day or two for it (common practice, no source). */
const LEAST_DAYS = 2;

/** Up to its due day, unless one of its lines is in danger. */
const latestDay = ({ lines, plannedDay, dueDay }: DueVisit): number =>
  lines.some((line) => IN_DANGER.has(trendOf(line)['due_rule']))
    ? plannedDay
    : Math.max(plannedDay, dueDay - LEAST_DAYS);

/**
 * How long a late visit may wait for a week with room: as long as each of its lines may, those that are not late until
 * their own day, and not into the next trip to the house.
 */
function latestIfLate(visit: DueVisit, today: number, { visits }: OwnerSettings): number {
  const waits = visit.lines.map((line) => lastDayOf(line, today) ?? Infinity);
  const { after } = visit.beside;
  const trip = after === null ? Infinity : after - visits.tripsApartDays;
  return Math.max(visit.dueDay, Math.min(today + visits.lateSpreadDays, trip, ...waits));
}

/** Day after which a line's visit may not come: the day it is due; of a late one as long as it may wait, null: no such day. */
export function lastDayOf(line: Row, today: number): number | null {
  const dueOn = trendOf(line)['due_on'];
  if (dueOn === null) return null;
  const dueDay = dayNumber(String(dueOn));
  const { waitsUntil } = aheadOf(line);
  if (dueDay >= today || waitsUntil === undefined) return dueDay;
  return waitsUntil === null ? null : dayNumber(waitsUntil);
}

const intervalsOf = ({ lines }: DueVisit): number[] =>
  lines.flatMap((line) => trendOf(line)['interval_days'] ?? []).map(Number);

const dangerOf = ({ lines }: DueVisit): LineDanger[] =>
  lines.map((line) => ({
    plugChanceYear: Number(trendOf(line)['plug_chance_year']),
    actionChance30Days: Number(trendOf(line)['action_chance_30d']),
  }));

/** What the trend keeps of the due date beside its day; one from before it was kept says nothing of waiting. */
export const aheadOf = (line: Row) =>
  trendOf(line)['components'] as {
    notBefore: IsoDate | null;
    waitsUntil?: IsoDate | null;
    openFrom?: IsoDate | null;
  };

function movedTo(visit: DueVisit, day: number, ask: VisitsAsk): DueVisit {
  return isLate(visit, ask.today) ? waiting(visit, day) : withinReach(visit, day, ask);
}

/** Crews come from the Monday of the week it is planned for on, and have as long as ever; its due day stays the last. */
function withinReach(visit: DueVisit, day: number, { today, settings }: VisitsAsk): DueVisit {
  const { aheadDays } = settings.visits;
  const wantedDay = Math.min(visit.dueDay, day + aheadDays);
  const notBeforeDay = Math.max(mondayOf(day), earliestDay(visit, today, settings));
  const moved = { ...visit, plannedDay: day, wantedDay, notBeforeDay };
  if (wantedDay === visit.dueDay) return moved;
  const daysSooner = visit.dueDay - wantedDay;
  const [dueOn, by] = [isoDate(visit.dueDay), isoDate(wantedDay)];
  const reason: Reason = {
    code: 'levelled',
    facts: { dueOn, on: isoDate(day), by, daysSooner },
    text: `Due by ${dueOn}; comes ${daysInWords(daysSooner)} sooner than usual, by ${by}, because more than usual comes due about then and the weeks before have room.`,
  };
  return { ...moved, joined: [...visit.joined, reason] };
}

function waiting(visit: DueVisit, day: number): DueVisit {
  const [since, to] = [isoDate(visit.dueSinceDay), isoDate(day)];
  const plugChanceYear = Math.max(...dangerOf(visit).map((line) => line.plugChanceYear));
  const reason: Reason = {
    code: 'late_spread',
    facts: { dueOn: since, on: to, daysLate: day - visit.dueSinceDay, plugChanceYear },
    text: `Due since ${since}; comes by ${to}: much is late at once, and what is in more danger comes first (this one: ${percent(plugChanceYear)} chance of plugging within a year if nobody came).`,
  };
  return {
    ...visit,
    plannedDay: day,
    wantedDay: day,
    notBeforeDay: mondayOf(day),
    joined: [...visit.joined, reason],
  };
}

/** In the order of the names; rows keep theirs. */
function grouped(rows: readonly Row[], column: string): [string, Row[]][] {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const held = groups.get(String(row[column]));
    if (held) held.push(row);
    else groups.set(String(row[column]), [row]);
  }
  return column === 'site_id' ? [...groups].sort(([a], [b]) => (a < b ? -1 : 1)) : [...groups];
}

/** First surveys are levelled over weeks: a book that moves in is not all due today. The system's worst line ranks it. */
function surveyDaysOf({ today, lines, given, settings }: VisitsAsk): Map<string, number> {
  const waiting = [...grouped(lines, 'system_id')].flatMap(([id, own]): FirstSurvey[] => {
    const surveys = own.filter((line) => isSurvey(line, today));
    if (surveys.length === 0) return [];
    const kinds = own.map((line) => line['kind'] as LineKind);
    const { basement } = systemConsequence(kinds, own[0]?.['basement'] as Basement);
    return [
      {
        id,
        yearlyRisk: settings.yearlyPlugRisk[basement],
        plugWithinYear: Math.max(...surveys.map((line) => Number(trendOf(line)['plug_chance_year']))),
        givenDay: null,
      },
    ];
  });
  return levelFirstSurveys([...given, ...waiting], today + 1, settings);
}

/** The systems that lines of a site belong to, each due with its line due first; what is late is due today. */
export const systemsDue = (
  lines: readonly Row[],
  today: number,
  surveyDays: ReadonlyMap<string, number> = new Map(),
): SystemDue[] =>
  [...grouped(lines, 'system_id')].map(([systemId, own]) => systemDue(systemId, own, today, surveyDays));

function systemDue(
  systemId: string,
  own: readonly Row[],
  today: number,
  surveyDays: ReadonlyMap<string, number>,
): SystemDue {
  return dueDateOfSystem(
    systemId,
    own.map((line) => {
      const trend = trendOf(line);
      const survey = isSurvey(line, today) ? surveyDays.get(systemId) : undefined;
      const { notBefore } = aheadOf(line);
      return {
        id: String(line['id']),
        dueDay:
          survey ?? (trend['due_on'] === null ? null : Math.max(today, dayNumber(String(trend['due_on'])))),
        notBeforeDay: notBefore === null ? null : dayNumber(notBefore),
        intervalDays: trend['interval_days'] === null ? null : Number(trend['interval_days']),
      };
    }),
  );
}

const pitsOf = (systemIds: readonly string[], pits: ReadonlyMap<string, string>) =>
  systemIds.flatMap((systemId) => {
    const pitId = pits.get(systemId);
    return pitId === undefined ? [] : [{ systemId, pitId }];
  });

/** Days before today on which its lines were due. */
const missedDays = (lines: readonly Row[], today: number): number[] =>
  lines
    .flatMap((line) => trendOf(line)['due_on'] ?? [])
    .map((dueOn) => dayNumber(String(dueOn)))
    .filter((dueDay) => dueDay < today);

export const trendOf = (line: Row): Row => line['trend'] as Row;

function isSurvey(line: Row, today: number): boolean {
  const trend = trendOf(line);
  const dueDay = trend['due_on'] === null ? null : dayNumber(String(trend['due_on']));
  return isFirstSurvey({ rule: trend['due_rule'] as never, dueDay }, Number(trend['readings_used']), today);
}
