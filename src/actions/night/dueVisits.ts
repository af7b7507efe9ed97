import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { type FirstSurvey, isFirstSurvey, levelFirstSurveys } from '../../domain/fouling/dueDateLevelling.js';
import { dueDateOfSystem, type SystemDue, siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import type { Basement, Deposit, LineKind } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { type PlannedVisit, planVisit, type VisitLine } from '../../domain/work/visitTasks.js';
import type { Row } from '../ports.js';

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
}

export interface DueVisit {
  siteId: string;
  systemIds: string[];
  cause: 'first_survey' | 'due';
  lines: Row[];
  planned: PlannedVisit;
  notBeforeDay: number;
  /** The day it is due; where it is late, the day it was. */
  wantedDay: number;
  /** What made systems join. */
  joined: readonly Reason[];
}

/**
 * The visits to be ordered on a day, site by site: one visit a system, systems of a site together where near, first
 * surveys levelled over weeks. `ahead` counts those of the lines asked that it is too soon to order.
 */
export function dueVisits(ask: VisitsAsk): { visits: DueVisit[]; ahead: number } {
  const { today, lines, settings } = ask;
  const surveyDays = surveyDaysOf(ask);
  const visits: DueVisit[] = [];
  let ahead = 0;
  for (const [siteId, siteLines] of grouped(lines, 'site_id')) {
    const systems = [...grouped(siteLines, 'system_id')].map(([systemId, own]) =>
      systemDue(systemId, own, today, surveyDays),
    );
    for (const visit of siteVisits(systems, settings)) {
      if (visit.dueDay > today + LEAD_DAYS) {
        ahead++;
        continue;
      }
      const members = new Set(
        systems
          .filter(({ systemId }) => visit.systemIds.includes(systemId))
          .flatMap(({ memberIds }) => memberIds),
      );
      const own = siteLines.filter((line) => members.has(String(line['id'])));
      const planned = planVisit(own.map(visitLine), pitsOf(visit.systemIds, ask.pits), settings);
      if (planned.tasks.length === 0) continue;
      const cause = own.every((line) => isSurvey(line, today)) ? 'first_survey' : 'due';
      // A visit that is late says since when; before today nobody can come.
      const wantedDay = Math.min(visit.dueDay, ...(cause === 'due' ? missedDays(own, today) : []));
      visits.push({
        siteId,
        systemIds: visit.systemIds,
        cause,
        lines: own,
        planned,
        notBeforeDay: Math.min(wantedDay, visit.dueDay - EARLY_DAYS),
        wantedDay,
        joined: visit.reasons,
      });
    }
  }
  return { visits, ahead };
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

/** First surveys are levelled over weeks: a book that moves in is not all due today. */
function surveyDaysOf({ today, lines, given, settings }: VisitsAsk): Map<string, number> {
  const surveys = new Map(
    lines.filter((line) => isSurvey(line, today)).map((line) => [String(line['system_id']), line]),
  );
  const waiting = [...surveys.values()].map((line) => ({
    id: String(line['system_id']),
    yearlyRisk: settings.yearlyPlugRisk[line['basement'] as Basement],
    plugWithinYear: Number(trendOf(line)['plug_chance_year']),
    givenDay: null,
  }));
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

/** A line as far as the work on it depends on it. */
export function visitLine(line: Row): VisitLine {
  const number = (value: unknown) => (value === null ? null : Number(value));
  return {
    lineId: String(line['id']),
    systemId: String(line['system_id']),
    kind: line['kind'] as LineKind,
    isDischarge: line['is_discharge'] === true,
    lengthM: number(line['length_m']),
    boreMm: number(line['bore_mm']),
    occlusion: Number(trendOf(line)['occlusion']),
    deposit: line['deposit'] as Deposit,
    unseen: Number(trendOf(line)['readings_used']) === 0,
    stepsToPit: line['is_discharge'] === true ? 0 : line['drains_to'] === 'line' ? 2 : 1,
  };
}
