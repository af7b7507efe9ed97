import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { overtimePrice } from '../../domain/routing/overtime.js';
import type { Plan, PlannedRoute } from '../../domain/routing/plan.js';
import type { CrewDay } from '../../domain/routing/problem.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { crewDayId } from './crewDays.js';
import type { RouteProgress } from './dayProgress.js';
import type { Question } from './problem.js';

/** Writes a plan's routes and stops, not yet live. What crews of today have behind them stays in front. */
export async function storeRoutes(
  house: House,
  stores: Stores,
  planId: string,
  plan: Pick<Plan, 'routes'>,
  question: Question,
  scope: ReadonlySet<string> | null = null,
): Promise<void> {
  const routes: Row[] = [];
  const stops: Row[] = [];
  const crewDays = new Map(question.problem.crewDays.map((crewDay) => [crewDay.id, crewDay]));
  const planned = new Map(plan.routes.map((route) => [route.crewDayId, route]));
  const behind = new Map(
    question.live
      .filter(({ kept, route }) => kept.length > 0 && route['closed_at'] === null)
      .map((each) => [crewDayId(each.route['crew_id'], String(each.route['day'])), each]),
  );
  const wanted = [...new Set([...planned.keys(), ...behind.keys()])].filter((id) => scope?.has(id) ?? true);
  for (const id of wanted) {
    const progress = behind.get(id);
    const route = planned.get(id);
    const place = question.crewDayOf.get(id) ?? {
      crewId: String(progress?.route['crew_id']),
      day: String(progress?.route['day']),
    };
    if (!progress && (!route || route.stops.length === 0)) continue;
    const routeId = newId();
    routes.push({
      ...routeRow(house, planId, routeId, place, route, progress, crewDays.get(id)),
      on_call: question.onCall,
    });
    for (const stop of progress?.kept ?? []) stops.push(keptStop(stop, routeId, stops.length + 1));
    for (const stop of route?.stops ?? []) {
      const at = (s: number) => house.zone.instantOf(place.day, s).toISOString();
      const orderId = stop.kind === 'visit' ? stop.orderId : null;
      stops.push({
        id: newId(),
        route_id: routeId,
        work_order_id: orderId,
        depot_id: stop.kind === 'refill' || stop.kind === 'disposal' ? stop.siteId : null,
        position: stops.length + 1,
        kind: stop.kind,
        live: false,
        locked: orderId !== null && isLocked(question, orderId),
        travel_s: stop.travelSeconds,
        travel_m: stop.travelMetres,
        arrives_at: at(stop.arrivalSeconds),
        starts_at: at(stop.startSeconds),
        ends_at: at(stop.endSeconds),
        ...NEW_ROW,
      });
    }
  }
  await stores.rows.insertMany('route', routes);
  await stores.rows.insertMany('stop', renumbered(stops));
}

const NEW_ROW = { version: 1, created_at: 'now', updated_at: 'now' };

/** Positions count from 1 on each route. */
function renumbered(stops: readonly Row[]): Row[] {
  const last = new Map<unknown, number>();
  return stops.map((stop) => {
    const position = (last.get(stop['route_id']) ?? 0) + 1;
    last.set(stop['route_id'], position);
    return { ...stop, position };
  });
}

const isLocked = (question: Question, orderId: string): boolean =>
  question.books.orders.some(
    (row) =>
      row['id'] === orderId &&
      [row['lock_day'], row['lock_crew_id'], row['lock_from'], row['lock_sequence']].some(
        (part) => part !== null,
      ),
  );

function routeRow(
  house: House,
  planId: string,
  routeId: string,
  place: { crewId: string; day: IsoDate },
  route: PlannedRoute | undefined,
  progress: RouteProgress | undefined,
  crewDay: CrewDay | undefined,
): Row {
  const at = (s: number) => house.zone.instantOf(place.day, s).toISOString();
  const kept = progress?.kept ?? [];
  const sum = (column: string) => kept.reduce((total, stop) => total + Number(stop[column]), 0);
  const worked = kept.reduce(
    (total, stop) => total + (stop['kind'] === 'visit' ? secondsBetween(stop, 'starts_at', 'ends_at') : 0),
    0,
  );
  const waited = kept.reduce((total, stop) => total + secondsBetween(stop, 'arrives_at', 'starts_at'), 0);
  const stops = route?.stops ?? [];
  const overtime = route?.overtimeSeconds ?? 0;
  return {
    id: routeId,
    plan_id: planId,
    crew_id: place.crewId,
    day: place.day,
    state: 'proposed',
    leaves_at: progress ? progress.route['leaves_at'] : route ? at(route.leaveSeconds) : null,
    returns_at: route ? at(route.endSeconds) : (kept.at(-1)?.['ends_at'] ?? null),
    drive_s: sum('travel_s') + (route?.travelSeconds ?? 0),
    drive_m: sum('travel_m') + (route?.travelMetres ?? 0),
    work_s: worked + stops.reduce((total, stop) => total + workSecondsOf(stop), 0),
    wait_s: waited + stops.reduce((total, stop) => total + stop.waitSeconds, 0),
    overtime_s: overtime,
    overtime_minor: overtimePrice(overtime, crewDay?.overtimePerHour ?? 0),
    ...NEW_ROW,
  };
}

/** A rest in the midst of a visit is no work. */
function workSecondsOf(stop: PlannedRoute['stops'][number]): number {
  const seconds = stop.endSeconds - stop.startSeconds;
  if (stop.kind === 'break') return stop.during ? -seconds : 0;
  return stop.kind === 'visit' ? seconds : 0;
}

const secondsBetween = (stop: Row, from: string, to: string): number =>
  Math.max(0, Math.round((Date.parse(String(stop[to])) - Date.parse(String(stop[from]))) / 1000));

/** A stop that is behind the crew, with the times it really had where they are known. */
function keptStop(stop: Row, routeId: string, position: number): Row {
  const started = stop['attempt_started_at'] ?? stop['starts_at'];
  return {
    id: newId(),
    route_id: routeId,
    work_order_id: stop['work_order_id'],
    depot_id: stop['depot_id'],
    position,
    kind: stop['kind'],
    live: false,
    locked: stop['locked'],
    travel_s: stop['travel_s'],
    travel_m: stop['travel_m'],
    arrives_at: started,
    starts_at: started,
    ends_at: stop['attempt_ended_at'] ?? later(started, secondsBetween(stop, 'starts_at', 'ends_at')),
    ...NEW_ROW,
  };
}

const later = (instant: unknown, seconds: number): string =>
  new Date(Date.parse(String(instant)) + seconds * 1000).toISOString();
