import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { type FirstSurvey, isFirstSurvey, levelFirstSurveys } from '../../domain/fouling/dueDateLevelling.js';
import { dueDateOfSystem, type SystemDue, siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import { systemConsequence } from '../../domain/fouling/policy.js';
import type { JetMeans } from '../../domain/jetting/orderJet.js';
import type { Basement, LineKind } from '../../domain/words.js';
import { type ComingVisit, type LevelWeek, levelLoad } from '../../domain/work/levelLoad.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { type PlannedVisit, planVisit } from '../../domain/work/visitTasks.js';
import type { Row } from '../ports.js';
import { visitLine } from '../workLife/visitLine.js';

/** Orders are made this long before their day: time to tell the client (common practice, no source). */
export const LEAD_DAYS = 21;
/** How early a crew may come (common practice, no source). */
const EARLY_DAYS = 14;

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
  /** The day it is due or levelled to; where it is late, the day it was due. */
  wantedDay: number;
  /** What made systems join, or the visit come sooner. */
  joined: readonly Reason[];
}

/**
 * The visits to be ordered on a day, site by site: one visit a system, systems of a site together where near, first
 * surveys levelled over weeks, and no week with more work than hours where that can be helped. `ahead` counts those
 * of the lines asked that it is too soon to order.
 */
export function dueVisits(ask: VisitsAsk): { visits: DueVisit[]; ahead: number } {
  const leadDay = ask.today + (ask.leadDays ?? LEAD_DAYS);
  const lastDay = Math.max(leadDay, lastLevelled(ask));
  const { coming, ahead } = comingVisits(ask, lastDay);
  const days = levelled(ask, coming);
  const visits: DueVisit[] = [];
  let later = ahead;
  for (const visit of coming) {
    const day = days.get(idOf(visit)) ?? visit.dueDay;
    if (day > leadDay) later++;
    else visits.push(day < visit.dueDay ? movedTo(visit, day) : visit);
  }
  return { visits, ahead: later };
}

function comingVisits(ask: VisitsAsk, lastDay: number): { coming: DueVisit[]; ahead: number } {
  const { today, lines, settings } = ask;
  const surveyDays = surveyDaysOf(ask);
  const coming: DueVisit[] = [];
  let ahead = 0;
  for (const [siteId, siteLines] of grouped(lines, 'site_id')) {
    const systems = [...grouped(siteLines, 'system_id')].map(([systemId, own]) =>
      systemDue(systemId, own, today, surveyDays),
    );
    for (const visit of siteVisits(systems, settings)) {
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
        notBeforeDay: Math.min(wantedDay, visit.dueDay - EARLY_DAYS),
        wantedDay,
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

/** Days of visits that come sooner because their own week is full. First surveys have been levelled. */
function levelled({ today, settings, level }: VisitsAsk, coming: readonly DueVisit[]): Map<string, number> {
  if (!level || !canLevel(level)) return new Map();
  const free = coming.map(
    (visit): ComingVisit => ({
      id: idOf(visit),
      hours: crewHours(visit.planned.minutes, level.travelShare),
      latestDay: visit.dueDay,
      earliestDay: visit.cause === 'first_survey' ? visit.dueDay : earliestDay(visit, today, settings),
      fixed: visit.cause === 'first_survey',
    }),
  );
  return levelLoad([...level.fixed, ...free], level.weeks);
}

/** Where nobody works there is nothing to level against. */
export const canLevel = ({ weeks }: LevelAsk): boolean =>
  weeks.some(({ capacityHours }) => capacityHours > 0);

/** Hours of a crew that a visit takes, the way there included. */
export const crewHours = (minutes: number, travelShare: number): number => minutes / 60 / (1 - travelShare);

/** By the terms' own date the client need not be asked as long as the visit does not count as early. */
function earliestDay(visit: DueVisit, today: number, { visits, consent }: OwnerSettings): number {
  const byTerms = visit.lines.some((line) => trendOf(line)['due_rule'] === 'care_terms');
  const intervals = visit.lines.flatMap((line) => trendOf(line)['interval_days'] ?? []).map(Number);
  const slack = Math.floor(
    Math.min(
      visits.levelDays,
      byTerms ? Math.max(0, consent.earlyFromDays - 1) : Infinity,
      ...intervals.map((days) => days * visits.levelShareOfInterval),
    ),
  );
  const decided = visit.lines.flatMap((line) => {
    const { notBefore } = trendOf(line)['components'] as { notBefore: IsoDate | null };
    return notBefore === null ? [] : [dayNumber(notBefore)];
  });
  return Math.min(visit.dueDay, Math.max(today + 1, visit.dueDay - slack, ...decided));
}

function movedTo(visit: DueVisit, day: number): DueVisit {
  const [from, to] = [isoDate(visit.dueDay), isoDate(day)];
  const reason: Reason = {
    code: 'levelled',
    facts: { dueOn: from, on: to, daysSooner: visit.dueDay - day },
    text: `Due on ${from}; comes on ${to} because the week of its due day has more work than hours.`,
  };
  return {
    ...visit,
    wantedDay: day,
    notBeforeDay: Math.min(visit.notBeforeDay, day),
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
      const ahead = trend['components'] as { notBefore: IsoDate | null };
      return {
        id: String(line['id']),
        dueDay:
          survey ?? (trend['due_on'] === null ? null : Math.max(today, dayNumber(String(trend['due_on'])))),
        notBeforeDay: ahead.notBefore === null ? null : dayNumber(ahead.notBefore),
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
