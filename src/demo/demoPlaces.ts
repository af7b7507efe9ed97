/** A town of the invented county Wexley Reach. Iron is what its ground water typically carries. */
export interface DemoTown {
  name: string;
  /** Two letters that begin the ids of its sites. */
  code: string;
  postalCode: string;
  latitude: number;
  longitude: number;
  spreadKm: number;
  /** Share of the clients. */
  weight: number;
  areas: readonly DemoArea[];
  streets: readonly string[];
}

export interface DemoArea {
  name: string;
  ironMgL: number;
  /** Set where the houses are new and one builder laid the drains. */
  builder: string | null;
}

/** Invented; the coordinates lie in open country. */
export const DEMO_TOWNS: readonly DemoTown[] = [
  {
    name: 'Alder Quay',
    code: 'AQ',
    postalCode: 'WR1 2',
    latitude: 44.69,
    longitude: -90.42,
    spreadKm: 2.4,
    weight: 0.3,
    areas: [
      { name: 'Old Harbour', ironMgL: 2.2, builder: null },
      { name: 'Saltmarsh Fill', ironMgL: 6.5, builder: null },
      { name: 'Beacon Rise', ironMgL: 0.6, builder: 'Beaconrise Lot Works' },
    ],
    streets: [
      'Copper Beech Drive',
      'Kiln Lane',
      'Tidewater Street',
      'Ropewalk',
      'Lantern Road',
      'Netmaker Row',
    ],
  },
  {
    name: 'Brindle Mill',
    code: 'BM',
    postalCode: 'WR2 4',
    latitude: 44.805,
    longitude: -90.215,
    spreadKm: 1.8,
    weight: 0.18,
    areas: [
      { name: 'Mill Side', ironMgL: 1.6, builder: null },
      { name: 'Fulling Green', ironMgL: 0.9, builder: null },
    ],
    streets: ['Orchard Rise', 'Weir Street', 'Spindle Lane', 'Carder Close', 'Race Bank'],
  },
  {
    name: 'Fallow Bridge',
    code: 'FB',
    postalCode: 'WR3 1',
    latitude: 44.505,
    longitude: -90.215,
    spreadKm: 2,
    weight: 0.18,
    areas: [
      { name: 'Bog Row', ironMgL: 9, builder: null },
      { name: 'Fallow Meadows', ironMgL: 4.5, builder: 'Fallowmead Lot Works' },
    ],
    streets: ['Marsh Gate', 'Sedge Walk', 'Peatcutter Lane', 'Heron Court', 'Causeway Road'],
  },
  {
    name: 'Osier Landing',
    code: 'OL',
    postalCode: 'WR4 3',
    latitude: 44.615,
    longitude: -90.3,
    spreadKm: 1.5,
    weight: 0.14,
    areas: [
      { name: 'Landing', ironMgL: 3.5, builder: null },
      { name: 'Willow Flats', ironMgL: 7, builder: null },
    ],
    streets: ['Basket Street', 'Ferry Lane', 'Withy Road', 'Towpath', 'Lock House Lane'],
  },
  {
    name: 'Tansy Hollow',
    code: 'TH',
    postalCode: 'WR5 6',
    latitude: 44.735,
    longitude: -90.33,
    spreadKm: 1.4,
    weight: 0.12,
    areas: [
      { name: 'Hollow', ironMgL: 1.2, builder: null },
      { name: 'Upper Tansy', ironMgL: 0.4, builder: null },
    ],
    streets: ['Yarrow Street', 'Beekeeper Lane', 'Dell Road', 'Clover Court'],
  },
  {
    name: 'Quern Hill',
    code: 'QH',
    postalCode: 'WR6 5',
    latitude: 44.56,
    longitude: -90.48,
    spreadKm: 1.6,
    weight: 0.08,
    areas: [
      { name: 'Gravel Top', ironMgL: 0.2, builder: null },
      { name: 'Hill Foot', ironMgL: 1.8, builder: null },
    ],
    streets: ['Millstone Road', 'Quarry Rise', 'Granary Street', 'Larch Bank'],
  },
];

export interface DemoDepot {
  name: string;
  latitude: number;
  longitude: number;
}

export const DEMO_DEPOTS = {
  harbour: { name: 'Harbour yard', latitude: 44.676, longitude: -90.398 },
  north: { name: 'North yard', latitude: 44.772, longitude: -90.256 },
  south: { name: 'South yard', latitude: 44.552, longitude: -90.274 },
} as const satisfies Record<string, DemoDepot>;

const KM_PER_DEGREE = 111.2;

/** Kilometres as the crow flies; flat, good enough within one county. */
export function kmBetween(a: DemoPoint, b: DemoPoint): number {
  const shrink = Math.cos(((a.latitude + b.latitude) / 2) * (Math.PI / 180));
  return Math.hypot(a.latitude - b.latitude, (a.longitude - b.longitude) * shrink) * KM_PER_DEGREE;
}

export interface DemoPoint {
  latitude: number;
  longitude: number;
}

/** The point so many kilometres east and north of another. */
export function shifted(from: DemoPoint, eastKm: number, northKm: number): DemoPoint {
  const shrink = Math.cos(from.latitude * (Math.PI / 180));
  return {
    latitude: rounded(from.latitude + northKm / KM_PER_DEGREE),
    longitude: rounded(from.longitude + eastKm / (KM_PER_DEGREE * shrink)),
  };
}

const rounded = (degrees: number): number => Math.round(degrees * 1e5) / 1e5;
