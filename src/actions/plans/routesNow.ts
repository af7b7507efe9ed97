import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { checkRoutes } from '../../domain/routing/check.js';
import type { PlannedRoute, PlannedStop } from '../../domain/routing/plan.js';
import type { CrewDay, RoutingProblem } from '../../domain/routing/problem.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import type { Basis } from './basis.js';
import { crewDayId } from './crewDays.js';
import { faultSaid } from './faultSaid.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';

/**
 * What the independent checker finds wrong with routes on record, as the books are now: legs as they were driven in
 * the plan, all else from the question. Crews that have set out since are not looked at: where they are changes.
 */
export function faultsNow(
  house: House,
  question: Question,
  rows: readonly Row[],
  { sharedKit }: Pick<Basis, 'sharedKit'>,
): Said[] {
  const { crewDays } = question.problem;
  const size = question.places.points.length;
  const travel = { size, seconds: new Int32Array(size * size), metres: new Int32Array(size * size) };
  const problem: RoutingProblem = { ...question.problem, travel };
  const routes = rows.flatMap((row): PlannedRoute[] => {
    const id = crewDayId(row['crew_id'], String(row['day']));
    const crewDay = crewDays.find((each) => each.id === id);
    return crewDay
      ? [
          routeFrom(
            house,
            problem,
            row,
            crewDay,
            (sharedKit?.[id] ?? []).map((item) => item.id),
          ),
        ]
      : [];
  });
  const gone = new Set(crewDays.filter(({ underWay }) => underWay).map(({ id }) => id));
  return checkRoutes(problem, routes, gone).map((fault) => faultSaid(house, question, fault));
}

/** A route on record as the planner would write it; its legs go into the travel matrix. */
function routeFrom(
  house: House,
  problem: RoutingProblem,
  row: Row,
  crewDay: CrewDay,
  sharedKitIds: readonly string[],
): PlannedRoute {
  const day = String(row['day']);
  const { travel } = problem;
  const stops: PlannedStop[] = [];
  let here = crewDay.startLocation;
  const drive = (to: number, seconds: number, metres: number) => {
    travel.seconds[here * travel.size + to] = seconds;
    travel.metres[here * travel.size + to] = metres;
    here = to;
  };
  const rows = row['stops'] as Row[];
  for (const [at, stop] of rows.entries()) {
    const there = locationOf(problem, stop) ?? restsAt(problem, crewDay, rows.slice(at), here);
    if (there !== here) drive(there, Number(stop['travel_s']), Number(stop['travel_m']));
    stops.push(stopFrom(house, day, stop, there, stops));
  }
  const driven = (column: 'travelSeconds' | 'travelMetres') =>
    stops.reduce((sum, stop) => sum + stop[column], 0);
  const returnTravelSeconds = Number(row['drive_s']) - driven('travelSeconds');
  const returnTravelMetres = Number(row['drive_m']) - driven('travelMetres');
  if (crewDay.endLocation !== here) drive(crewDay.endLocation, returnTravelSeconds, returnTravelMetres);
  return {
    crewDayId: crewDay.id,
    crewId: crewDay.crewId,
    day: crewDay.day,
    leaveSeconds: secondsAt(house, day, row['leaves_at']),
    stops,
    returnTravelSeconds,
    returnTravelMetres,
    endSeconds: secondsAt(house, day, row['returns_at']),
    travelSeconds: Number(row['drive_s']),
    travelMetres: Number(row['drive_m']),
    overtimeSeconds: Number(row['overtime_s']),
    sharedKitIds,
  };
}

/** Where a rest is taken: on arrival at what comes next where the drive there lies before it, else where the crew is. */
function restsAt(
  problem: RoutingProblem,
  { endLocation }: CrewDay,
  [rest, ...next]: readonly Row[],
  here: number,
): number {
  if (rest?.['kind'] !== 'break' || Number(rest['travel_s']) === 0) return here;
  for (const stop of next) {
    const location = locationOf(problem, stop);
    if (location !== null) return location;
  }
  return endLocation;
}

/** Null: a rest, or an order that is not asked about. */
function locationOf({ orders, refillSites }: RoutingProblem, stop: Row): number | null {
  if (stop['kind'] === 'visit')
    return orders.find(({ id }) => id === stop['work_order_id'])?.location ?? null;
  return refillSites.find(({ id }) => id === stop['depot_id'])?.location ?? null;
}

function stopFrom(
  house: House,
  day: IsoDate,
  stop: Row,
  location: number,
  before: readonly PlannedStop[],
): PlannedStop {
  const arrivalSeconds = secondsAt(house, day, stop['arrives_at']);
  const startSeconds = secondsAt(house, day, stop['starts_at']);
  const times = {
    location,
    travelSeconds: Number(stop['travel_s']),
    travelMetres: Number(stop['travel_m']),
    arrivalSeconds,
    waitSeconds: startSeconds - arrivalSeconds,
    startSeconds,
    endSeconds: secondsAt(house, day, stop['ends_at']),
  };
  switch (stop['kind']) {
    case 'visit':
      return { kind: 'visit', orderId: String(stop['work_order_id']), ...times };
    case 'break': {
      const work = before.findLast(({ kind }) => kind !== 'break');
      return { kind: 'break', during: work !== undefined && startSeconds < work.endSeconds, ...times };
    }
    default:
      return {
        kind: stop['kind'] === 'disposal' ? 'disposal' : 'refill',
        siteId: String(stop['depot_id']),
        ...times,
      };
  }
}

/** Seconds since the day's midnight by the clock on the wall, also on a day whose clocks change. */
export function secondsAt({ zone }: House, day: IsoDate, instant: unknown): number {
  const at = Date.parse(String(instant));
  const elapsed = Math.round((at - zone.instantOf(day, 0).getTime()) / 1000);
  return elapsed + Math.round((at - zone.instantOf(day, elapsed).getTime()) / 1000);
}
