import type { CrewRow } from '../actions/clientBase.js';
import type { KitKind, Weekday } from '../domain/words.js';
import { DEMO_DEPOTS, type DemoDepot, type DemoPoint, kmBetween } from './demoPlaces.js';

const WEEK: Weekday[] = ['mon', 'tue', 'wed', 'thu', 'fri'];
const FOUR_DAYS: Weekday[] = ['mon', 'tue', 'wed', 'thu'];

function crew(
  crewId: string,
  name: string,
  depot: DemoDepot,
  kit: KitKind[],
  people: number,
  hours: { from: string; to: string; weekdays: Weekday[] },
): CrewRow {
  return {
    crewId,
    name,
    depot: depot.name,
    depotLatitude: depot.latitude,
    depotLongitude: depot.longitude,
    kit,
    shiftStart: hours.from,
    shiftEnd: hours.to,
    weekdays: hours.weekdays,
    people,
    breakAfter: null,
    breakMinutes: 0,
  };
}

const EARLY = { from: '07:00', to: '15:30', weekdays: WEEK };
const USUAL = { from: '07:30', to: '16:00', weekdays: WEEK };
const LONG = { from: '07:00', to: '17:00', weekdays: FOUR_DAYS };

/** Two for jetting and digs; Kestrel goes alone, with hose and camera. */
export function demoCrews(): CrewRow[] {
  const { harbour, north, south } = DEMO_DEPOTS;
  return [
    crew('C1', 'Heron', north, ['hose', 'jetter', 'camera', 'hand_tools'], 2, USUAL),
    crew('C2', 'Kestrel', north, ['hose', 'camera', 'hand_tools'], 1, USUAL),
    crew('C3', 'Plover', harbour, ['hose', 'jetter', 'camera', 'tracer', 'pump', 'hand_tools'], 2, EARLY),
    crew('C4', 'Wagtail', harbour, ['hose', 'jetter', 'camera', 'cable_machine', 'hand_tools'], 2, USUAL),
    crew('C5', 'Curlew', south, ['hose', 'jetter', 'camera', 'pump', 'vacuum', 'hand_tools'], 2, EARLY),
    crew('C6', 'Dunlin', south, ['hose', 'jetter', 'camera', 'tracer', 'excavator', 'hand_tools'], 3, LONG),
  ];
}

/** Crews with a jetter, the nearest depot's first. */
export function crewsNear(place: DemoPoint, crews: readonly CrewRow[]): CrewRow[] {
  const km = (row: CrewRow): number =>
    kmBetween(place, { latitude: row.depotLatitude, longitude: row.depotLongitude });
  return crews.filter((row) => row.kit.includes('jetter')).sort((a, b) => km(a) - km(b));
}

/** A jetter on a trailer, 20 gpm at 2500 psi, and one on a cart, 4 gpm at 1500 psi. */
const TRAILER = { pressureKpa: 17_237, flowLps: 1.262, hoseM: 75 };
const CART = { pressureKpa: 10_342, flowLps: 0.252, hoseM: 45 };

/** What a crew's jetter gives and holds, and its hose's length; of Kestrel's van and of Wagtail's buckets nobody wrote it down. */
export const DEMO_TANKS: readonly {
  crewId: string;
  kind: KitKind;
  waterL: number | null;
  wasteL: number | null;
  /** kPa, L/s and m; of the vacuum none. */
  jets?: { pressureKpa: number; flowLps: number; hoseM: number };
}[] = [
  { crewId: 'C1', kind: 'jetter', waterL: 1150, wasteL: 250, jets: TRAILER },
  { crewId: 'C3', kind: 'jetter', waterL: 1150, wasteL: 250, jets: TRAILER },
  { crewId: 'C4', kind: 'jetter', waterL: 1900, wasteL: null, jets: CART },
  { crewId: 'C5', kind: 'jetter', waterL: 1150, wasteL: null, jets: TRAILER },
  { crewId: 'C5', kind: 'vacuum', waterL: null, wasteL: 900 },
  { crewId: 'C6', kind: 'jetter', waterL: 1150, wasteL: 250, jets: TRAILER },
];
