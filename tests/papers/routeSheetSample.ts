import type { RouteSheetData, SheetStop, SheetVisit } from '../../src/papers/routeSheetData.js';
import { ROUTES_SAMPLE } from './routesSample.js';

const VISIT: SheetVisit = {
  orderNumber: '2041',
  address: '14 Heron Lane, Wexley Reach',
  because: 'Due 16 Jun 2026: yearly risk. Last cleaned 8 Dec 2025, then 5 % blocked.',
  promised: { fromSeconds: 7 * 3600, toSeconds: 9 * 3600 },
  hindrances: [],
  ticket: null,
  accessNotes: [
    'Side gate left of the garage, code with the occupant',
    'Outlet: 2 m left of the willow, under the ferns',
  ],
  notes: [
    { text: 'Key of the side gate under the third pot', day: '2025-12-08', author: 'Noor Abela' },
    { text: 'Dog is friendly, still shut the gate', day: '2025-06-11', author: 'Ib Falk' },
  ],
  sketches: [
    {
      name: 'North pit',
      address: '14 Heron Lane',
      units: 'metric',
      pit: {
        place: 'basement, north corner',
        depthMm: 900,
        diameterMm: 450,
        points: [{ kind: 'pit', place: 'under the stair', atM: null, unconfirmed: false }],
      },
      lines: [
        {
          name: 'north footing drain',
          kind: 'footing_drain',
          material: 'corrugated_hdpe',
          boreMm: 100,
          lengthM: 30,
          drainsTo: { to: 'pit' },
          isDischarge: false,
          unconfirmed: false,
          points: [{ kind: 'cleanout', place: 'behind the hedge', atM: 12, unconfirmed: false }],
        },
        {
          name: 'sump discharge',
          kind: 'sump_discharge',
          material: 'pvc',
          boreMm: 50,
          lengthM: 18,
          drainsTo: { to: 'outlet', words: 'daylight' },
          isDischarge: true,
          unconfirmed: false,
          points: [{ kind: 'outlet', place: '2 m left of the willow', atM: 18, unconfirmed: false }],
        },
      ],
    },
  ],
  contacts: [
    { name: 'Renske Oakley', role: 'occupant', phone: '555 0142', language: null },
    { name: 'Júlia Szőnyi', role: 'keyholder', phone: null, language: 'Hungarian' },
  ],
  tasks: [
    {
      kind: 'inspect',
      target: 'sump discharge',
      minutes: 10,
      plan: ['Camera from the outlet'],
      cautions: [],
    },
    {
      kind: 'jet',
      target: 'north footing drain',
      minutes: 35,
      plan: [
        'From cleanout C1 toward the pit, 18 m',
        'At most 80 bar at the nozzle: corrugated, condition unknown',
        '3 passes',
      ],
      cautions: [
        {
          text: 'Pump locked out: the pit fills in about 6 minutes. Second pump in the pit first.',
          source: null,
        },
      ],
    },
    {
      kind: 'jet',
      target: 'sump discharge',
      minutes: 15,
      plan: ['Never through the check valve'],
      cautions: [],
    },
    { kind: 'test_pump', target: 'pit', minutes: 5, plan: ['Float cycled, check valve holds'], cautions: [] },
  ],
  cautions: [
    { text: 'Nobody at an open end while a jet runs.', source: 'site safety sheet 3' },
    { text: 'Unexpected hard stop or smell of gas: no cutter, leave, call.', source: null },
  ],
  waterPlan: 'Water to caught; sludge: depot.',
  question: 'sump discharge: where does it end?',
  kit: ['jetter, 13 mm hose', 'camera'],
  waterLitres: 900,
  wasteLitres: 60,
};

const [heron] = ROUTES_SAMPLE.routes;
if (heron === undefined) throw new Error('the sample has crews');

/** The Heron crew's day in full. */
export const ROUTE_SHEET_SAMPLE: RouteSheetData = {
  businessName: 'Alder Quay Drainworks',
  officePhone: '555 0100',
  day: ROUTES_SAMPLE.day,
  units: 'metric',
  onCall: false,
  members: ['Ib Falk', 'Noor Abela'],
  kit: ['jetter, 13 mm hose', 'camera', 'second pump', 'cable machine', 'hand tools', '900 L of water'],
  warnings: [],
  cautions: [
    {
      name: 'local codes',
      text: 'Follow local codes; licensed practice where required.',
      source: null,
      stops: [1, 2, 3, 5],
    },
  ],
  route: {
    ...heron,
    stops: heron.stops.map(
      (stop, i): SheetStop => ({
        ...stop,
        visit:
          stop.kind === 'visit'
            ? { ...VISIT, orderNumber: `${2041 + i}`, address: `${stop.siteName}, Wexley Reach` }
            : null,
        note: stop.kind === 'refill' ? 'key in the box on the post' : null,
      }),
    ),
  },
};
