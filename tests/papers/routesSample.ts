import type { DayRoute, DayStop, Depot, RoutesDay } from '../../src/papers/routesDay.js';

const YARD: Depot = { name: 'Alder Quay yard', at: { latitude: 44.952, longitude: -92.711 } };
const NORTH: Depot = { name: 'North shed', at: { latitude: 45.061, longitude: -92.62 } };
const MINUTE = 60;

/** A stop as clock minutes: drive so long, wait, stay. */
interface Leg {
  name: string;
  at: DayStop['at'];
  drive: number;
  wait?: number;
  stay: number;
  kind?: DayStop['kind'];
}

function route(
  crewName: string,
  start: Depot,
  end: Depot,
  leave: number,
  legs: readonly Leg[],
  home: number,
): DayRoute {
  let clock = leave * MINUTE;
  const stops = legs.map(({ name, at, drive, wait = 0, stay, kind = 'visit' as const }): DayStop => {
    const arrivalSeconds = clock + drive * MINUTE;
    const startSeconds = arrivalSeconds + wait * MINUTE;
    clock = startSeconds + stay * MINUTE;
    return {
      kind,
      siteName: name,
      at,
      travelSeconds: drive * MINUTE,
      arrivalSeconds,
      startSeconds,
      endSeconds: clock,
    };
  });
  const driven = legs.reduce((sum, { drive }) => sum + drive, home);
  return {
    crewName,
    start,
    end,
    shiftStartSeconds: 7 * 3600,
    shiftEndSeconds: 15.5 * 3600,
    leaveSeconds: leave * MINUTE,
    endSeconds: clock + home * MINUTE,
    travelMetres: driven * 830,
    returnTravelSeconds: home * MINUTE,
    stops,
  };
}

const at = (latitude: number, longitude: number): DayStop['at'] => ({ latitude, longitude });
const rest: Leg = { name: '', at: null, drive: 0, stay: 30, kind: 'break' };

/** Three crews of the demo world, one with a refill, one that waits, one over its shift. */
export const ROUTES_SAMPLE: RoutesDay = {
  day: '2026-06-16',
  units: 'metric',
  routes: [
    route(
      'Heron crew',
      YARD,
      YARD,
      425,
      [
        { name: '14 Heron Lane', at: at(44.962, -92.705), drive: 8, stay: 75 },
        { name: '16 Heron Lane', at: at(44.9621, -92.7048), drive: 1, stay: 45 },
        { name: 'Mill House', at: at(44.987, -92.742), drive: 14, wait: 20, stay: 60 },
        rest,
        { name: 'Standpipe, Quay Road', at: at(44.975, -92.72), drive: 9, stay: 15, kind: 'refill' },
        { name: '3 Ochre Row', at: at(44.941, -92.66), drive: 18, stay: 95 },
      ],
      12,
    ),
    route(
      'Otter crew',
      YARD,
      NORTH,
      430,
      [
        { name: '2 Reed Close', at: at(44.93, -92.69), drive: 11, stay: 40 },
        { name: 'Wexley Reach School', at: at(44.998, -92.65), drive: 22, stay: 130 },
        rest,
        { name: '71 Long Furrow', at: at(45.021, -92.601), drive: 15, stay: 50 },
        { name: 'Sludge bay', at: at(45.05, -92.61), drive: 9, stay: 20, kind: 'disposal' },
        { name: '9 Sedge Street', at: at(45.058, -92.653), drive: 8, stay: 65 },
        { name: '11 Sedge Street', at: at(45.058, -92.653), drive: 0, stay: 65 },
        { name: '12 Sedge Street', at: at(45.0581, -92.6531), drive: 0, stay: 60 },
      ],
      10,
    ),
    route(
      'Kingfisher crew',
      NORTH,
      NORTH,
      450,
      [
        { name: 'Fen Cottage', at: at(45.043, -92.735), drive: 19, stay: 120 },
        { name: 'New house without coordinates', at: null, drive: 12, stay: 30 },
        rest,
        { name: '5 Weir Path', at: at(45.02, -92.69), drive: 13, stay: 110 },
      ],
      16,
    ),
  ],
};
