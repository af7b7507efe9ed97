import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { Depot, Position, StopProgress } from '../../papers/routesDay.js';
import type { MappedDay, MappedRoute, MappedStop } from '../../papers/routesGeoJson.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { secondsOf } from './books.js';
import { secondsAt } from './routesNow.js';

export interface PictureAsk {
  day: IsoDate;
  /** A plan's routes instead of what crews drive. */
  planId: string | null;
  crewId: string | null;
  units: UnitSystem;
}

/** A day's routes as the map, the strips and GeoJSON draw them. */
export async function dayPicture(house: House, ask: PictureAsk): Promise<MappedDay> {
  const { plans, rows } = house.stores;
  if (ask.planId !== null && !(await rows.get('plan', ask.planId)))
    throw new Refused({ code: 'not-found', resource: 'plan', id: ask.planId });
  const routes =
    ask.planId === null
      ? [...(await plans.liveRoutes(ask.day, ask.day)), ...(await plans.onCallRoutes(ask.day))]
      : await plans.planRoutes(ask.planId);
  const shown = routes.filter(
    (route) => route['day'] === ask.day && (ask.crewId === null || route['crew_id'] === ask.crewId),
  );
  const depots = await rows.all('depot', []);
  const now = house.clock.now();
  const isNow = ask.planId === null && ask.day === house.zone.dayOf(now);
  return {
    day: ask.day,
    units: ask.units,
    ...(isNow ? { nowSeconds: secondsAt(house, ask.day, now.toISOString()) } : {}),
    routes: shown.map((route) => mappedRoute(house, route, depots)),
  };
}

/** A route with its crew's depots and shift, as pictures and sheets draw it. */
export function mappedRoute(house: House, route: Row, depots: readonly Row[]): MappedRoute {
  const day = String(route['day']);
  const at = (instant: unknown) => secondsAt(house, day, instant);
  const rows = route['stops'] as Row[];
  const stops = rows.map((stop, i): MappedStop => {
    const depot = depots.find((each) => each['id'] === stop['depot_id']) ?? null;
    return {
      kind: stop['kind'] as MappedStop['kind'],
      siteName: siteName(stop, depot),
      at: placeOf(stop) ?? (depot && placeOf(depot)),
      travelSeconds: Number(stop['travel_s']),
      arrivalSeconds: at(stop['arrives_at']),
      startSeconds: at(stop['starts_at']),
      endSeconds: at(stop['ends_at']),
      workOrderId: stop['work_order_id'] === null ? null : String(stop['work_order_id']),
      workOrderNumber: stop['number'] === null ? null : Number(stop['number']),
      startsAt: String(stop['starts_at']),
      endsAt: String(stop['ends_at']),
      progress: progressOf(rows, i),
    };
  });
  const leaveSeconds = route['leaves_at'] === null ? (stops[0]?.arrivalSeconds ?? 0) : at(route['leaves_at']);
  const done = Math.max(leaveSeconds, ...stops.map(({ endSeconds }) => endSeconds));
  const endSeconds = route['returns_at'] === null ? done : Math.max(done, at(route['returns_at']));
  return {
    routeId: String(route['id']),
    crewId: String(route['crew_id']),
    crewName: String(route['crew_name']),
    onCall: route['on_call'] === true,
    start: depotOf(route, 'start'),
    end: depotOf(route, 'end'),
    shiftStartSeconds: route['shift_starts_at'] ? secondsOf(String(route['shift_starts_at'])) : leaveSeconds,
    shiftEndSeconds: route['shift_ends_at'] ? secondsOf(String(route['shift_ends_at'])) : endSeconds,
    leaveSeconds,
    endSeconds,
    travelMetres: Number(route['drive_m']),
    returnTravelSeconds: endSeconds - done,
    stops,
  };
}

/** A visit by its order and attempt; a break or a tank stop is over when a later visit has been begun. */
function progressOf(stops: readonly Row[], at: number): StopProgress {
  const stop = stops[at] ?? {};
  if (stop['work_order_id'] === null)
    return stops.slice(at + 1).some((later) => visitProgress(later) !== 'ahead') ? 'over' : 'ahead';
  return visitProgress(stop);
}

function visitProgress(stop: Row): StopProgress {
  if (stop['work_order_id'] === null) return 'ahead';
  if (stop['order_state'] === 'under_way') return 'under_way';
  const wasThere = stop['attempt_ended_at'] !== null && stop['attempt_ended_at'] !== undefined;
  return stop['order_state'] === 'done' || (wasThere && stop['live'] !== true) ? 'over' : 'ahead';
}

const placeOf = (row: Row): Position | null =>
  row['latitude'] === null || row['latitude'] === undefined
    ? null
    : { latitude: Number(row['latitude']), longitude: Number(row['longitude']) };

function depotOf(route: Row, end: 'start' | 'end'): Depot {
  return {
    name: String(route[`${end}_depot_name`]),
    at: {
      latitude: Number(route[`${end}_depot_latitude`]),
      longitude: Number(route[`${end}_depot_longitude`]),
    },
  };
}

function siteName(stop: Row, depot: Row | null): string {
  if (stop['kind'] === 'break') return '';
  if (depot) return String(depot['name']);
  return stop['address'] === null ? '' : String(stop['address']);
}
