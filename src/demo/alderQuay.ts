import type { ClientBase, LineRow, ReadingRow, SiteRow } from '../actions/clientBase.js';
import { addDays, type IsoDate } from '../domain/calendar/isoDate.js';
import type { LineKind, Material, Method } from '../domain/words.js';
import { type Chance, chance } from './chance.js';

/**
 * Alder Quay Drainworks in Wexley Reach: an invented business in an invented county, with two years of history.
 * Lines foul by a gamma process with a wet season; crews come more often where it is worse; some entries are wrong.
 */
export const BUSINESS = 'Alder Quay Drainworks, Wexley Reach';

const TOWNS = [
  { name: 'Alder Quay', latitude: 44.695, longitude: -90.43, ironMgL: 4 },
  { name: 'Brindle Mill', latitude: 44.8, longitude: -90.22, ironMgL: 1 },
  { name: 'Fallow Bridge', latitude: 44.51, longitude: -90.21, ironMgL: 8 },
  { name: 'Wexley', latitude: 44.63, longitude: -90.31, ironMgL: 2.5 },
  { name: 'Otter Landing', latitude: 44.57, longitude: -90.49, ironMgL: 0.4 },
] as const;
const STREETS = [
  'Marsh Gate',
  'Kiln Lane',
  'Orchard Rise',
  'Copper Beech Drive',
  'Reed Row',
  'Mill Race',
  'Sluice Street',
  'Heron Way',
] as const;
const CREWS: [string, string, ClientBase['crews'][number]['kit'], string, string, number][] = [
  ['Heron', 'North yard', ['hose', 'jetter', 'camera'], '07:30', '16:00', 2],
  ['Kestrel', 'North yard', ['hose', 'jetter', 'camera', 'tracer'], '07:30', '16:00', 2],
  ['Plover', 'South yard', ['hose', 'jetter', 'camera', 'pump'], '07:00', '15:30', 2],
  ['Wagtail', 'South yard', ['hose', 'jetter', 'tracer', 'excavator', 'pump', 'camera'], '07:00', '15:30', 3],
  ['Dipper', 'South yard', ['hose', 'camera'], '08:00', '16:30', 1],
];
const DEPOTS: Record<string, [number, number]> = {
  'North yard': [44.76, -90.28],
  'South yard': [44.58, -90.38],
};
const KINDS: LineKind[][] = [
  ['footing_drain', 'sump_discharge'],
  ['footing_drain', 'sump_discharge'],
  ['footing_drain', 'floor_drain', 'sump_discharge'],
  ['footing_drain'],
  ['yard_drain', 'sump_discharge'],
];
const SITES = 300;
const HISTORY_DAYS = 730;
/** Growth noise of the gamma process: variance a unit of growth. */
const NOISE = 0.03;
const SEASON = 0.35;
const THRESHOLD: Record<LineKind, number> = {
  sump_discharge: 0.4,
  footing_drain: 0.45,
  floor_drain: 0.45,
  yard_drain: 0.55,
};
/** Share of the bore above which the house calls. */
const CALLS_AT = 0.96;

export function alderQuay(asOf: IsoDate, seed = 1): ClientBase {
  const luck = chance(seed);
  const sites: SiteRow[] = [];
  const lines: LineRow[] = [];
  const readings: ReadingRow[] = [];
  for (let i = 0; i < SITES; i++) {
    const town = luck.pick(TOWNS);
    const siteId = `AQ-${String(i + 1).padStart(4, '0')}`;
    const builtOn = addDays(asOf, -Math.floor(400 + luck.next() * 9_000));
    sites.push({
      siteId,
      client: `Client ${String(i + 1).padStart(3, '0')}`,
      address: `${1 + Math.floor(luck.next() * 240)} ${luck.pick(STREETS)}`,
      town: town.name,
      area: town.name,
      latitude: round(town.latitude + luck.normal() * 0.02, 5),
      longitude: round(town.longitude + luck.normal() * 0.025, 5),
      access: luck.next() < 0.3 ? 'someone_home' : 'anytime',
      basement: luck.pick(['finished', 'finished', 'basement', 'none', 'unknown']),
      clientPhone: `555-01${String(i % 100).padStart(2, '0')}`,
      clientEmail: `client${i + 1}@example.com`,
      builder: null,
      builtOn,
      accessNotes: null,
      tap: luck.next() < 0.8 ? 'yes' : 'unknown',
      postalCode: null,
      lastCleaned: null,
    });
    const siteEffect = 0.5 * luck.normal();
    luck.pick(KINDS).forEach((kind, k) => {
      const lineId = `${siteId}-${k + 1}`;
      const material: Material =
        kind === 'sump_discharge' ? 'pvc' : luck.pick(['corrugated_hdpe', 'corrugated_hdpe', 'pvc', 'clay']);
      const iron = town.ironMgL * Math.exp(0.3 * luck.normal());
      lines.push({
        lineId,
        siteId,
        kind,
        material,
        boreMm: kind === 'sump_discharge' ? 41 : 102,
        lengthM: round(8 + luck.next() * 35, 1),
        installedOn: builtOn,
        ferrousIronMgL: luck.next() < 0.6 ? round(iron, 2) : null,
        threshold: THRESHOLD[kind],
        outlet:
          kind === 'sump_discharge' ? luck.pick(['daylight', 'ditch', 'pop_up', 'storm_sewer']) : 'unknown',
        drainsTo: null,
        condition: 'unknown',
        perforated: kind === 'footing_drain' ? true : null,
        wrapped: null,
        slopePct: kind === 'sump_discharge' ? null : 1,
      });
      const rate =
        0.0009 *
        Math.exp(
          0.45 * Math.log(iron / 2) +
            siteEffect +
            0.5 * luck.normal() +
            (material === 'corrugated_hdpe' ? 0.3 : 0),
        );
      readings.push(...pastOf(lineId, rate, asOf, luck));
    });
  }
  const crews = CREWS.map(
    ([name, depot, kit, shiftStart, shiftEnd, people], i): ClientBase['crews'][number] => {
      const [depotLatitude, depotLongitude] = DEPOTS[depot] ?? [0, 0];
      return {
        crewId: `C${i + 1}`,
        name,
        depot,
        depotLatitude,
        depotLongitude,
        kit,
        shiftStart,
        shiftEnd,
        weekdays: ['mon', 'tue', 'wed', 'thu', 'fri'],
        people,
      };
    },
  );
  return { sites, lines, readings, crews };
}

const round = (x: number, digits: number): number => Number(x.toFixed(digits));

/** One line's visits: grow day by day, come when booked, or when the house calls. */
function pastOf(lineId: string, rate: number, asOf: IsoDate, luck: Chance): ReadingRow[] {
  const rows: ReadingRow[] = [];
  let level = 0.05 + 0.3 * luck.next();
  const usual = Math.min(240, Math.max(55, (0.25 / rate) * Math.exp(0.3 * luck.normal())));
  let next = -HISTORY_DAYS + Math.floor(luck.next() * usual);
  for (let day = -HISTORY_DAYS; day < 0; day++) {
    const date = addDays(asOf, day);
    const season = 1 + SEASON * Math.cos((2 * Math.PI * (Number(date.slice(5, 7)) - 4)) / 12);
    level += NOISE * luck.gamma((rate * season) / NOISE);
    const called = level >= CALLS_AT;
    if (day < next && !called) continue;
    rows.push(...visit(lineId, date, level, called, luck));
    level = Math.max(0.005, 0.03 + 0.02 * luck.normal());
    next = day + Math.floor(usual * Math.exp(0.2 * luck.normal()));
  }
  return rows;
}

function visit(lineId: string, date: IsoDate, level: number, called: boolean, luck: Chance): ReadingRow[] {
  const at = (hour: number) =>
    `${date}T${String(hour).padStart(2, '0')}:${String(Math.floor(luck.next() * 60)).padStart(2, '0')}:00.000Z`;
  const blank = {
    lineId,
    crewId: `C${1 + Math.floor(luck.next() * CREWS.length)}`,
    note: null,
    distanceM: null,
  };
  const method: Method = luck.next() < 0.55 ? 'camera' : 'outlet_look';
  const sd = method === 'camera' ? 0.05 : 0.1;
  const read = (truth: number) => {
    const value = Math.min(1, Math.max(0, truth + sd * luck.normal()));
    // Now and then the free bore is entered for the blocked one.
    const entered = luck.next() < 0.015 ? 1 - value : value;
    return method === 'camera' ? round(entered, 2) : Math.round(entered * 20) / 20;
  };
  const before: ReadingRow = called
    ? {
        ...blank,
        observedAt: at(14),
        phase: 'before_cleaning',
        method: null,
        occlusion: null,
        plugged: true,
        plugCause: luck.pick(['deposit', 'deposit', 'deposit', 'unknown', 'roots']),
        deposit: 'crust',
      }
    : luck.next() < 0.1
      ? {
          ...blank,
          observedAt: at(14),
          phase: 'before_cleaning',
          method: null,
          occlusion: null,
          plugged: false,
          plugCause: null,
          deposit: 'unknown',
        }
      : {
          ...blank,
          observedAt: at(14),
          phase: 'before_cleaning',
          method,
          occlusion: read(level),
          plugged: false,
          plugCause: null,
          deposit: 'gel',
        };
  if (luck.next() < 0.5) return [before];
  return [
    before,
    {
      ...blank,
      observedAt: at(16),
      phase: 'after_cleaning',
      method,
      occlusion: read(0.03),
      plugged: false,
      plugCause: null,
      deposit: 'unknown',
    },
  ];
}
