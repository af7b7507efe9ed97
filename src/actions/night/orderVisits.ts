import { v7 as newId } from 'uuid';
import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { type FirstSurvey, isFirstSurvey, levelFirstSurveys } from '../../domain/fouling/dueDateLevelling.js';
import { dueDateOfSystem, siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import type { Basement, Deposit, LineKind, WorkOrderCause } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { planVisit, type VisitLine } from '../../domain/work/visitTasks.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { visitConditions } from './visitConditions.js';

/** Orders are made this long before their day: time to tell the client (common practice, no source). */
const LEAD_DAYS = 21;
/** How early a crew may come (common practice, no source). */
const EARLY_DAYS = 14;

/** Step `order`: due lines become work orders, one visit a system, systems of a site together where near. */
export async function order(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<Record<string, number>> {
  const today = dayNumber(day);
  const lines = await stores.night.lines(day);
  const trends = new Map(
    (await stores.rows.all('trend', [], 'line_id')).map((row) => [String(row['line_id']), row]),
  );
  // What was worked on since the day began is believed as it was before: it is dated, and ordered, tomorrow.
  const dayBegan = house.zone.instantOf(day, 0).toISOString();
  const openTasks = [...(await stores.night.openTasks()), ...(await stores.night.workedSince(dayBegan))];
  const busyLines = new Set(
    openTasks.filter(({ line_id }) => line_id !== null).map(({ line_id }) => String(line_id)),
  );
  const busyPits = new Set(
    openTasks.filter(({ pit_id }) => pit_id !== null).map(({ pit_id }) => String(pit_id)),
  );
  const pits = new Map(
    (await stores.rows.all('pit', [{ column: 'archived_on', is: 'null' }])).map((row) => [
      String(row['system_id']),
      String(row['id']),
    ]),
  );

  const bySite = new Map<string, Row[]>();
  for (const line of lines) {
    const trend = trends.get(String(line['id']));
    if (!trend || busyLines.has(String(line['id']))) continue;
    bySite.set(String(line['site_id']), [...(bySite.get(String(line['site_id'])) ?? []), { ...line, trend }]);
  }

  // First surveys are levelled over weeks: a book that moves in is not all due today.
  const surveys = [...bySite.values()].flat().filter((line) => isSurvey(line, today));
  const surveyDays = levelFirstSurveys(
    [
      ...(await givenSurveys(stores, today)),
      ...[...new Map(surveys.map((line) => [String(line['system_id']), line])).values()].map((line) => ({
        id: String(line['system_id']),
        yearlyRisk: settings.yearlyPlugRisk[line['basement'] as Basement],
        plugWithinYear: Number(trendOf(line)['plug_chance_year']),
        givenDay: null,
      })),
    ],
    today + 1,
    settings,
  );

  const conditions = await visitConditions(house, stores, lines, day, settings);
  const counts = { orders: 0, surveys: 0, visitsAhead: 0 };
  for (const [siteId, siteLines] of [...bySite].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const bySystem = new Map<string, Row[]>();
    for (const line of siteLines)
      bySystem.set(String(line['system_id']), [...(bySystem.get(String(line['system_id'])) ?? []), line]);
    const systems = [...bySystem].map(([systemId, own]) =>
      dueDateOfSystem(
        systemId,
        own.map((line) => {
          const trend = trendOf(line);
          const survey = isSurvey(line, today) ? surveyDays.get(systemId) : undefined;
          const ahead = trend['components'] as { notBefore: IsoDate | null };
          return {
            id: String(line['id']),
            dueDay:
              survey ??
              (trend['due_on'] === null ? null : Math.max(today, dayNumber(String(trend['due_on'])))),
            notBeforeDay: ahead.notBefore === null ? null : dayNumber(ahead.notBefore),
            intervalDays: trend['interval_days'] === null ? null : Number(trend['interval_days']),
          };
        }),
      ),
    );
    for (const visit of siteVisits(systems, settings)) {
      if (visit.dueDay > today + LEAD_DAYS) {
        counts.visitsAhead++;
        continue;
      }
      const members = new Set(
        systems
          .filter(({ systemId }) => visit.systemIds.includes(systemId))
          .flatMap(({ memberIds }) => memberIds),
      );
      const own = siteLines.filter((line) => members.has(String(line['id'])));
      const planned = planVisit(
        own.map(visitLine),
        visit.systemIds
          .filter((id) => pits.has(id) && !busyPits.has(pits.get(id) ?? ''))
          .map((systemId) => ({ systemId, pitId: pits.get(systemId) ?? '' })),
        settings,
      );
      if (planned.tasks.length === 0) continue;
      const cause: WorkOrderCause = own.every((line) => isSurvey(line, today)) ? 'first_survey' : 'due';
      // A visit that is late says since when; before today nobody can come.
      const wantedDay = Math.min(visit.dueDay, ...(cause === 'due' ? missedDays(own, today) : []));
      const lineIds = own.map((line) => String(line['id']));
      const early = cause === 'due' ? await conditions.early(siteId, lineIds, wantedDay) : null;
      const id = newId();
      await stores.rows.insert('work_order', {
        id,
        site_id: siteId,
        cause,
        not_before: isoDate(Math.min(wantedDay, visit.dueDay - EARLY_DAYS)),
        wanted_by: isoDate(wantedDay),
        kit: planned.kit,
        people: planned.people,
        minutes: planned.minutes,
        water_l: planned.waterL,
        sludge_l: planned.sludgeL,
        because_of: JSON.stringify([...becauseOf(own, visit.reasons), ...(early ? [early.reason] : [])]),
        price_minor: early?.priceMinor ?? null,
      });
      await stores.rows.insertMany(
        'work_order_task',
        planned.tasks.map((task, position) => ({
          id: newId(),
          work_order_id: id,
          position: position + 1,
          kind: task.kind,
          line_id: task.lineId,
          pit_id: task.pitId,
          minutes: task.minutes,
          plan: task.plan,
          unconfirmed: false,
          open: true,
          version: 1,
          created_at: 'now',
          updated_at: 'now',
        })),
      );
      await conditions.open(
        id,
        visit.systemIds,
        planned.tasks.map(({ kind }) => kind),
        early,
      );
      counts.orders++;
      if (cause === 'first_survey') counts.surveys++;
    }
  }
  return counts;
}

/** First surveys that nights before gave a day in this week or later, done or not: their places are taken. */
async function givenSurveys(stores: Stores, today: number): Promise<FirstSurvey[]> {
  const orders = await stores.rows.all('work_order', [
    { column: 'cause', is: '=', value: 'first_survey' },
    { column: 'state', is: '<>', value: 'withdrawn' },
    { column: 'wanted_by', is: '>=', value: isoDate(today - 6) },
  ]);
  return orders.map((order) => ({
    id: String(order['id']),
    yearlyRisk: 0,
    plugWithinYear: 0,
    givenDay: dayNumber(String(order['wanted_by'])),
  }));
}

/** Days before today on which its lines were due. */
const missedDays = (lines: readonly Row[], today: number): number[] =>
  lines
    .flatMap((line) => trendOf(line)['due_on'] ?? [])
    .map((dueOn) => dayNumber(String(dueOn)))
    .filter((dueDay) => dueDay < today);

const trendOf = (line: Row): Row => line['trend'] as Row;

function isSurvey(line: Row, today: number): boolean {
  const trend = trendOf(line);
  const dueDay = trend['due_on'] === null ? null : dayNumber(String(trend['due_on']));
  return isFirstSurvey({ rule: trend['due_rule'] as never, dueDay }, Number(trend['readings_used']), today);
}

function visitLine(line: Row): VisitLine {
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

/** Why this visit, now: the first reason of each line, and what made systems join. */
function becauseOf(lines: readonly Row[], joined: readonly object[]): object[] {
  const own = lines.flatMap((line) => {
    const [first] = trendOf(line)['due_reasons'] as { code: string; facts: object; text: string }[];
    return first ? [{ ...first, facts: { ...first.facts, lineId: line['id'] } }] : [];
  });
  return [...own, ...joined];
}
