import type { ClientBase, CrewRow } from '../actions/clientBase.js';
import { addDays, type IsoDate } from '../domain/calendar/isoDate.js';
import type { DecisionKind, KitKind, PreconditionKind, TaskKind, Weekday } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import type { DemoLine, DemoSystem } from './demoLines.js';
import { demoPerson } from './demoNames.js';
import type { DemoSite } from './demoSites.js';

/** What the demo knows beyond a file set; sites, lines, crews and depots by the ids and names of the base. */
export interface DemoExtras {
  contacts: DemoContact[];
  hours: { siteId: string; hours: DemoHours[] }[];
  careTerms: DemoCareTerms[];
  accessPoints: DemoAccessPoint[];
  decisions: DemoDecision[];
  members: { name: string; phone: string; email: string; crewId: string; fromDay: IsoDate }[];
  closedSeason: { depot: string; tasks: TaskKind[]; fromDay: IsoDate; toDay: IsoDate; reason: string };
  dig: DemoDig;
}

export interface DemoContact {
  siteId: string;
  name: string;
  role: 'occupant' | 'keyholder';
  phone: string;
  email: string;
  language: string;
  mayConsentTo: string[];
  optOut: boolean;
}

export interface DemoHours {
  weekday: Weekday;
  from: string;
  to: string;
}

export interface DemoCareTerms {
  siteId: string;
  /** Empty: the whole site. */
  lineIds: string[];
  intervalDays: number | null;
  visitsPerYear: number | null;
  priceMinor: number;
  earlyVisitsPerYear: number;
  earlyPriceCapMinor: number | null;
  fromDay: IsoDate;
  toDay: IsoDate | null;
}

export interface DemoAccessPoint {
  siteId: string;
  /** Null at the pit of the site. */
  lineId: string | null;
  kind: 'outlet' | 'cleanout' | 'pit' | 'floor_opening';
  place: string;
  distanceM: number | null;
  distanceFrom: string | null;
  kitCanEnter: KitKind[];
  direction: 'upstream' | 'downstream' | 'both';
  note: string | null;
}

export interface DemoDecision {
  siteId: string;
  lineIds: string[];
  task: TaskKind | null;
  kind: DecisionKind;
  decidedBy: string;
  decidedOn: IsoDate;
  riskTold: string;
  untilDay: IsoDate | null;
}

/** One dig that waits for its locate ticket. */
export interface DemoDig {
  siteId: string;
  lineId: string;
  precondition: PreconditionKind;
  facts: {
    ticket: string;
    askedOn: IsoDate;
    answered: string;
    notAnswered: string;
  };
  validFrom: IsoDate;
  validTo: IsoDate;
}

export function demoExtras(
  sites: readonly DemoSite[],
  systemsOf: ReadonlyMap<string, DemoSystem[]>,
  base: ClientBase,
  asOf: IsoDate,
  chance: Chance,
): DemoExtras {
  const known = sites.filter((site) => !site.thin);
  return {
    contacts: known.map((site) => contactOf(site, chance)),
    hours: known.flatMap((site) => hoursOf(site, chance)),
    careTerms: known.filter(() => chance.happens(0.55)).map((site) => careTermsOf(site, asOf, chance)),
    accessPoints: known.flatMap((site) => accessPointsOf(site, systemsOf.get(site.row.siteId) ?? [], chance)),
    decisions: decisionsOf(known, systemsOf, asOf),
    members: base.crews.flatMap((crew) => membersOf(crew, asOf, chance)),
    closedSeason: winterOf(asOf, base.crews),
    dig: digOf(known, systemsOf, asOf),
  };
}

function contactOf(site: DemoSite, chance: Chance): DemoContact {
  const occupant = site.row.client === site.person.name;
  return {
    siteId: site.row.siteId,
    ...site.person,
    role: occupant ? 'occupant' : 'keyholder',
    language: 'en',
    mayConsentTo: occupant ? ['early_visit', 'added_task', 'dig_and_replace'] : ['early_visit'],
    optOut: chance.happens(0.04),
  };
}

/** Half of the clients who must let the crew in say when they are there. */
function hoursOf(site: DemoSite, chance: Chance): { siteId: string; hours: DemoHours[] }[] {
  if (site.row.access !== 'someone_home' || chance.happens(0.5)) return [];
  const morning = { from: '08:00', to: '12:00' };
  const afternoon = { from: '12:30', to: '16:00' };
  const window = chance.happens(0.5) ? morning : afternoon;
  const days = chance.pick<Weekday[]>([
    ['mon', 'tue', 'wed', 'thu', 'fri'],
    ['mon', 'wed', 'fri'],
    ['tue', 'thu'],
  ]);
  return [{ siteId: site.row.siteId, hours: days.map((weekday) => ({ weekday, ...window })) }];
}

function careTermsOf(site: DemoSite, asOf: IsoDate, chance: Chance): DemoCareTerms {
  const early = chance.weighted({ '0': 35, '1': 40, '2': 25 });
  const byInterval = chance.happens(0.5);
  return {
    siteId: site.row.siteId,
    lineIds: [],
    intervalDays: byInterval ? chance.pick([90, 120, 180]) : null,
    visitsPerYear: byInterval ? null : chance.pick([2, 3, 4]),
    priceMinor: chance.whole(56, 92) * 500,
    earlyVisitsPerYear: Number(early),
    earlyPriceCapMinor: early === '0' ? null : 30_000,
    fromDay: addDays(asOf, -chance.whole(60, 720)),
    toDay: null,
  };
}

function accessPointsOf(site: DemoSite, systems: readonly DemoSystem[], chance: Chance): DemoAccessPoint[] {
  const { siteId } = site.row;
  return systems.flatMap(({ lines }) => {
    const pumped = lines.some((line) => line.row.kind === 'sump_discharge');
    const pit = pumped && chance.happens(0.8) ? [pitPoint(siteId, chance)] : [];
    return [...pit, ...lines.flatMap((line) => pointsOfLine(siteId, line, pumped, chance))];
  });
}

function pitPoint(siteId: string, chance: Chance): DemoAccessPoint {
  return {
    siteId,
    lineId: null,
    kind: 'pit',
    place: chance.pick(['Basement, north corner', 'Basement, under the stairs', 'Utility room floor']),
    distanceM: null,
    distanceFrom: null,
    kitCanEnter: ['hose', 'camera', 'jetter'],
    direction: 'both',
    note: chance.happens(0.2) ? 'Lid is screwed down.' : null,
  };
}

function pointsOfLine(siteId: string, line: DemoLine, pumped: boolean, chance: Chance): DemoAccessPoint[] {
  const kit: KitKind[] = line.boreMm >= 75 ? ['hose', 'camera', 'jetter'] : ['hose', 'jetter'];
  const base = { siteId, lineId: line.row.lineId, kitCanEnter: kit, note: null };
  const hasOutlet = !pumped || line.row.kind === 'sump_discharge';
  if (line.row.kind === 'floor_drain') {
    const place = 'Grate in the floor';
    return [
      { ...base, kind: 'floor_opening', place, distanceM: 0, distanceFrom: 'grate', direction: 'downstream' },
    ];
  }
  const points: DemoAccessPoint[] = [];
  if (hasOutlet && line.row.outlet !== 'unknown') {
    const place = chance.pick(['Back of the lot, by the fence', 'Front verge', 'Slope below the garden']);
    points.push({
      ...base,
      kind: 'outlet',
      place,
      distanceM: 0,
      distanceFrom: 'outlet',
      direction: 'upstream',
    });
  }
  if (chance.happens(0.25) && line.row.lengthM !== null && line.row.lengthM > 12) {
    const distanceM = Math.round((line.row.lengthM / 2) * 10) / 10;
    const place = chance.pick(['Corner of the house', 'Edge of the drive']);
    points.push({ ...base, kind: 'cleanout', place, distanceM, distanceFrom: 'outlet', direction: 'both' });
  }
  return points;
}

function decisionsOf(
  sites: readonly DemoSite[],
  systemsOf: ReadonlyMap<string, DemoSystem[]>,
  asOf: IsoDate,
): DemoDecision[] {
  const [refuses, putsOff] = sites.filter((site) => (systemsOf.get(site.row.siteId) ?? []).length > 0);
  if (refuses === undefined || putsOff === undefined) return [];
  return [
    {
      siteId: refuses.row.siteId,
      lineIds: [firstLine(refuses, systemsOf)],
      task: 'dig_and_replace',
      kind: 'refusal',
      decidedBy: refuses.person.name,
      decidedOn: addDays(asOf, -34),
      riskTold: 'The pipe is worn; without a new one the basement may flood in a wet spring.',
      untilDay: null,
    },
    {
      siteId: putsOff.row.siteId,
      lineIds: [],
      task: null,
      kind: 'postponement',
      decidedBy: putsOff.person.name,
      decidedOn: addDays(asOf, -9),
      riskTold: 'Each month the line fills further; a clean after that may take more passes.',
      untilDay: addDays(asOf, 40),
    },
  ];
}

function firstLine(site: DemoSite, systemsOf: ReadonlyMap<string, DemoSystem[]>): string {
  return systemsOf.get(site.row.siteId)?.[0]?.lines[0]?.row.lineId ?? '';
}

function membersOf(crew: CrewRow, asOf: IsoDate, chance: Chance): DemoExtras['members'] {
  return Array.from({ length: crew.people }, () => ({
    ...demoPerson(chance),
    crewId: crew.crewId,
    fromDay: addDays(asOf, -chance.whole(100, 720)),
  }));
}

/** No digging in frozen ground: the winter that `asOf` lies in, or the next one. */
function winterOf(asOf: IsoDate, crews: readonly CrewRow[]): DemoExtras['closedSeason'] {
  const year = Number(asOf.slice(0, 4));
  const firstYear = asOf <= `${year}-03-20` ? year - 1 : year;
  const digger = crews.find((crew) => crew.kit.includes('excavator'));
  return {
    depot: digger?.depot ?? '',
    tasks: ['dig_and_replace', 'restore'],
    fromDay: `${firstYear}-12-05`,
    toDay: `${firstYear + 1}-03-20`,
    reason: 'Frozen ground: no digging',
  };
}

function digOf(
  sites: readonly DemoSite[],
  systemsOf: ReadonlyMap<string, DemoSystem[]>,
  asOf: IsoDate,
): DemoDig {
  const lines = sites
    .slice(2)
    .flatMap((site) => (systemsOf.get(site.row.siteId) ?? []).flatMap((own) => own.lines));
  const line = lines.find((each) => each.row.condition === 'weak') ?? lines[0];
  if (line === undefined) throw new RangeError('a demo without lines');
  return {
    siteId: line.row.siteId,
    lineId: line.row.lineId,
    precondition: 'locate_ticket',
    facts: {
      ticket: `LT-${asOf.replaceAll('-', '')}-07`,
      askedOn: addDays(asOf, -2),
      answered: 'water, electricity',
      notAnswered: 'gas, telephone',
    },
    validFrom: addDays(asOf, 2),
    validTo: addDays(asOf, 16),
  };
}
