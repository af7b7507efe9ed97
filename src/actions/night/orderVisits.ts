import { v7 as newId } from 'uuid';
import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { levelAsk, weeksWith } from '../desk/weeksAhead.js';
import type { House, Stores } from '../house.js';
import { jetMeans } from '../workLife/visitLine.js';
import { becauseOf } from './becauseOf.js';
import { canLevel, daysInSight, dueVisits, LEAD_DAYS } from './dueVisits.js';
import { followDates } from './followDates.js';
import { givenSurveys } from './givenSurveys.js';
import { renewVisits } from './renewVisits.js';
import { visitConditions } from './visitConditions.js';

/** Step `order`: due lines become work orders, one visit a system, systems of a site together where near. */
export async function order(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<Record<string, number>> {
  const today = dayNumber(day);
  const followed = await followDates(house, stores, day, settings);
  const renewed = await renewVisits(house, stores, day, settings);
  // What is due later than this cannot come soon enough to be ordered now, however full its own week.
  const sooner = settings.visits.levelDays;
  const level = await levelAsk(house, stores, day, settings, weeksWith(LEAD_DAYS + sooner));
  const lookAhead = canLevel(level) ? daysInSight(level, today, settings) : LEAD_DAYS;
  // Sites on which nothing is due by then are left alone.
  const lines = await stores.night.linesOfDueSites(day, isoDate(today + lookAhead));
  const trends = new Map(
    (
      await stores.rows.all(
        'trend',
        [{ column: 'line_id', is: 'in', value: lines.map((line) => line['id']) }],
        'line_id',
      )
    ).map((row) => [String(row['line_id']), row]),
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

  const free = lines.flatMap((line) => {
    const trend = trends.get(String(line['id']));
    return trend && !busyLines.has(String(line['id'])) ? [{ ...line, trend }] : [];
  });
  const { visits, ahead } = dueVisits({
    today,
    lines: free,
    given: await givenSurveys(stores, today),
    pits: new Map([...pits].filter(([, pitId]) => !busyPits.has(pitId))),
    settings,
    means: await jetMeans(stores, settings),
    level,
  });
  const conditions = await visitConditions(house, stores, lines, day, settings);
  const counts = { orders: 0, surveys: 0, visitsAhead: ahead, renewed, ...followed };
  for (const visit of visits) {
    const { siteId, cause, planned, wantedDay } = visit;
    const lineIds = visit.lines.map((line) => String(line['id']));
    const entered = await conditions.entered(visit.lines, planned.tasks);
    const early = cause === 'due' ? await conditions.early(siteId, lineIds, wantedDay) : null;
    const id = newId();
    await stores.rows.insert('work_order', {
      id,
      site_id: siteId,
      cause,
      not_before: isoDate(visit.notBeforeDay),
      wanted_by: isoDate(wantedDay),
      kit: planned.kit,
      people: planned.people,
      minutes: planned.minutes,
      water_l: planned.waterL,
      sludge_l: planned.sludgeL,
      because_of: JSON.stringify([
        ...becauseOf(visit, today),
        ...entered.proposals,
        ...(early ? [early.reason] : []),
      ]),
      price_minor: early?.priceMinor ?? null,
    });
    await stores.rows.insertMany(
      'work_order_task',
      entered.tasks.map((task, position) => ({
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
  return counts;
}
