import {
  crewLetter,
  type DayRoute,
  type DayStop,
  numbered,
  type Position,
  type RoutesDay,
} from './routesDay.js';

/** A day's routes with the ids by which the service knows them. */
export interface MappedDay extends RoutesDay {
  routes: readonly MappedRoute[];
}

export interface MappedRoute extends DayRoute {
  routeId: string;
  crewId: string;
  stops: readonly MappedStop[];
}

export interface MappedStop extends DayStop {
  workOrderId: string | null;
  workOrderNumber: number | null;
  /** Instants, RFC 3339 UTC. */
  startsAt: string;
  endsAt: string;
}

export interface Feature {
  type: 'Feature';
  geometry:
    | { type: 'Point'; coordinates: [number, number] }
    | { type: 'LineString'; coordinates: [number, number][] };
  properties: Record<string, unknown>;
}

export interface FeatureCollection {
  type: 'FeatureCollection';
  features: Feature[];
}

/**
 * The routes as GeoJSON (RFC 7946: longitude before latitude, WGS 84): a line per crew, a point per stop and depot.
 * Lines are straight between stops; a stop without coordinates is left out.
 */
export function routesGeoJson(day: MappedDay): FeatureCollection {
  const features = day.routes.flatMap((route, index) => [
    lineOf(route, crewLetter(index), day),
    ...pointsOf(route, crewLetter(index)),
  ]);
  const depots = day.routes.flatMap(({ start, end }) => [start, end]);
  const once = new Map(depots.map((depot) => [`${depot.name} ${coordinates(depot.at).join()}`, depot]));
  return {
    type: 'FeatureCollection',
    features: [...features, ...[...once.values()].map(({ name, at }) => point(at, { kind: 'depot', name }))],
  };
}

const coordinates = ({ latitude, longitude }: Position): [number, number] => [longitude, latitude];

const point = (at: Position, properties: Record<string, unknown>): Feature => ({
  type: 'Feature',
  geometry: { type: 'Point', coordinates: coordinates(at) },
  properties,
});

function lineOf(route: MappedRoute, letter: string, { day }: MappedDay): Feature {
  const places = [
    route.start.at,
    ...route.stops.flatMap(({ at }) => (at === null ? [] : [at])),
    route.end.at,
  ];
  return {
    type: 'Feature',
    geometry: { type: 'LineString', coordinates: places.map(coordinates) },
    properties: {
      kind: 'route',
      day,
      routeId: route.routeId,
      crewId: route.crewId,
      crewName: route.crewName,
      onCall: route.onCall === true,
      crewLetter: letter,
      driveMetres: route.travelMetres,
    },
  };
}

function pointsOf({ crewId, routeId, stops }: MappedRoute, letter: string): Feature[] {
  return numbered(stops).flatMap(({ stop, number }) =>
    stop.at === null || number === null
      ? []
      : [
          point(stop.at, {
            kind: stop.kind,
            label: `${letter}${number}`,
            number,
            routeId,
            crewId,
            siteName: stop.siteName,
            workOrderId: stop.workOrderId,
            workOrderNumber: stop.workOrderNumber,
            startsAt: stop.startsAt,
            endsAt: stop.endsAt,
            progress: stop.progress ?? 'ahead',
          }),
        ],
  );
}
