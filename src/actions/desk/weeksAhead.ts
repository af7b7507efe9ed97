import { addDays, dayNumber, type IsoDate, isoDate, weekdayOf } from '../../domain/calendar/isoDate.js';
import { WEEKDAYS } from '../../domain/words.js';
import type { ComingVisit, LevelWeek } from '../../domain/work/levelLoad.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { WorkloadWeek } from '../../papers/workloadChart.js';
import type { House, Stores } from '../house.js';
import { crewHours, type DueVisit, dueVisits, fixedVisit, type LevelAsk } from '../night/dueVisits.js';
import { givenSurveys } from '../night/givenSurveys.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { jetMeans } from '../workLife/visitLine.js';
import { openShiftBooks, workedShifts } from './crewShifts.js';

/** Weeks whose load is evened out. */
export const LEVELLED_WEEKS = 12;
const WEEK_DAYS = 7;
const HOUR_MS = 3_600_000;
/** Spread of the minutes a visit takes, as a share (common practice, no source; as minutes are learned). */
const MINUTES_SPREAD = 0.35;
const BAND_SDS = 1.2816;

/** Weeks from this one on that hold so many days to come. */
export const weeksWith = (days: number): number => Math.ceil(days / WEEK_DAYS) + 1;

/** Monday of the day's week. */
const mondayOf = (day: IsoDate): IsoDate =>
  addDays(day, -((WEEKDAYS.indexOf(weekdayOf(day)) + WEEK_DAYS - 1) % WEEK_DAYS));

/** Crew-hours of the weeks ahead, of this week what is left, and the orders that are in the books. */
export async function levelAsk(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: Pick<OwnerSettings, 'visits'>,
  weeks = LEVELLED_WEEKS,
): Promise<LevelAsk> {
  const travelShare = await travelShareOf(stores, day, settings);
  return {
    weeks: await weeksOf(house, stores, day, weeks),
    fixed: await onOrders(stores, day, travelShare),
    travelShare,
  };
}

/** Routes looked back at, and how much work they must hold before they say more than the setting. */
const ROAD_DAYS = 28;
const LEAST_WORK_HOURS = 100;

/** Share of their hours that crews were on the road in the last weeks; the setting where little is known. */
export async function travelShareOf(
  stores: Stores,
  day: IsoDate,
  { visits }: Pick<OwnerSettings, 'visits'>,
): Promise<number> {
  const { driveSeconds, workSeconds } = await stores.desk.onTheRoad(addDays(day, -ROAD_DAYS));
  if (workSeconds < LEAST_WORK_HOURS * 3600) return visits.travelShare;
  return driveSeconds / (driveSeconds + workSeconds);
}

async function weeksOf(house: House, stores: Stores, day: IsoDate, count: number): Promise<LevelWeek[]> {
  const monday = mondayOf(day);
  const books = await openShiftBooks(stores, day);
  const hours = Array.from({ length: count }, () => 0);
  for (const shift of workedShifts(house, books, day, addDays(monday, WEEK_DAYS * count - 1))) {
    const week = Math.floor((dayNumber(shift.day) - dayNumber(monday)) / WEEK_DAYS);
    hours[week] = (hours[week] ?? 0) + (shift.to - shift.from) / HOUR_MS - shift.breakMinutes / 60;
  }
  return hours.map((capacityHours, week) => ({
    mondayDay: dayNumber(monday) + WEEK_DAYS * week,
    capacityHours: Math.max(0, capacityHours),
  }));
}

interface OrderedVisit extends ComingVisit {
  placed: boolean;
}

/** Visits on orders that are not done: on the day crews drive there, else on the first on which they may. */
async function onOrders(stores: Stores, day: IsoDate, travelShare: number): Promise<OrderedVisit[]> {
  const today = dayNumber(day);
  const visit = (row: Row, on: unknown, placed: boolean): OrderedVisit => {
    const at = on === null ? today : Math.max(today, dayNumber(String(on)));
    const hours = crewHours(Number(row['minutes']), travelShare);
    return { ...fixedVisit(String(row['id']), hours, at), placed };
  };
  return [
    ...(await stores.desk.placed(day)).map((row) => visit(row, row['day'], true)),
    ...(await stores.desk.unplaced()).map((row) => visit(row, row['not_before'] ?? row['wanted_by'], false)),
  ];
}

/** A week of work as it falls due and as it is evened out. */
export interface WeekAhead extends WorkloadWeek {
  /** Before evening out. */
  asDue: { visits: number; hours: number };
}

export interface MovedVisit {
  siteId: string;
  address: string;
  dueOn: IsoDate;
  on: IsoDate;
}

/** The load of the coming weeks: what is placed, what is on orders, what will fall due, against the crews' hours. */
export async function weeksAhead(
  house: House,
  stores: Stores,
  count: number,
): Promise<{ weeks: WeekAhead[]; moved: MovedVisit[]; late: number }> {
  const settings = await ownerSettings(stores);
  const day = house.zone.dayOf(house.clock.now());
  const today = dayNumber(day);
  const travelShare = await travelShareOf(stores, day, settings);
  const weeks = await weeksOf(house, stores, day, count);
  const fixed = await onOrders(stores, day, travelShare);
  // Crews come some days ahead of the due day.
  const lastDay = (weeks.at(-1)?.mondayDay ?? today) + WEEK_DAYS - 1 + settings.visits.aheadDays;
  const due = await stores.night.linesOfDueSites(day, isoDate(lastDay));
  const trends = new Map(
    (
      await stores.rows.all(
        'trend',
        [{ column: 'line_id', is: 'in', value: due.map((line) => line['id']) }],
        'line_id',
      )
    ).map((row) => [String(row['line_id']), row]),
  );
  const busy = new Set((await stores.night.openTasks()).map((row) => String(row['line_id'])));
  const lines = due.flatMap((line) => {
    const trend = trends.get(String(line['id']));
    return trend && !busy.has(String(line['id'])) ? [{ ...line, trend }] : [];
  });
  const pits = await stores.rows.all('pit', [{ column: 'archived_on', is: 'null' }]);
  const { visits } = dueVisits({
    today,
    lines,
    given: await givenSurveys(stores, today),
    pits: new Map(pits.map((row) => [String(row['system_id']), String(row['id'])])),
    settings,
    means: await jetMeans(stores, settings),
    level: { weeks, fixed, travelShare },
    leadDays: lastDay - today,
  });
  const first = weeks[0]?.mondayDay ?? today;
  const weekOf = (at: number) => Math.max(0, Math.floor((at - first) / WEEK_DAYS));
  const moved = visits.filter(({ wantedDay, dueSinceDay }) => wantedDay !== dueSinceDay);
  const sites = await stores.rows.all('site', [
    { column: 'id', is: 'in', value: moved.map(({ siteId }) => siteId) },
  ]);
  const addresses = new Map(sites.map((row) => [String(row['id']), String(row['address'])]));
  return {
    weeks: weeks.map(({ mondayDay, capacityHours }, week) => {
      const placed = fixed.filter((each) => each.placed && weekOf(each.latestDay) === week);
      const ordered = fixed.filter((each) => weekOf(each.latestDay) === week).map(({ hours }) => hours);
      const hoursOf = (visit: DueVisit) => crewHours(visit.planned.minutes, travelShare);
      const coming = visits.filter((visit) => weekOf(visit.plannedDay) === week).map(hoursOf);
      const asDue = visits.filter((visit) => weekOf(visit.dueDay) === week).map(hoursOf);
      const all = [...ordered, ...coming];
      return {
        monday: isoDate(mondayDay),
        placedVisits: placed.length,
        placedHours: rounded(total(placed.map(({ hours }) => hours))),
        visits: all.length,
        hours: bandOf(all),
        capacityHours: rounded(capacityHours),
        asDue: { visits: ordered.length + asDue.length, hours: rounded(total([...ordered, ...asDue])) },
      };
    }),
    moved: moved.map((visit) => ({
      siteId: visit.siteId,
      address: addresses.get(visit.siteId) ?? '',
      dueOn: isoDate(visit.dueSinceDay),
      on: isoDate(visit.plannedDay),
    })),
    late: fixed.filter(({ latestDay, placed }) => !placed && latestDay === today).length,
  };
}

const total = (hours: readonly number[]): number => hours.reduce((sum, each) => sum + each, 0);
const rounded = (hours: number): number => Math.round(10 * hours) / 10;

/** Minutes of visits scatter on their own: the spread of a sum is the root of the summed squares. */
function bandOf(hours: readonly number[]): { q10: number; q50: number; q90: number } {
  const sum = total(hours);
  const sd = MINUTES_SPREAD * Math.sqrt(total(hours.map((each) => each * each)));
  return {
    q10: rounded(Math.max(0, sum - BAND_SDS * sd)),
    q50: rounded(sum),
    q90: rounded(sum + BAND_SDS * sd),
  };
}
