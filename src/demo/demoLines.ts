import type { LineRow } from '../actions/clientBase.js';
import { addDays, dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import type { LineKind, Material, Outlet } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import type { DemoSite } from './demoSites.js';

/** A line as the simulation knows it: what is true beside what the books say. */
export interface DemoLine {
  row: LineRow;
  material: Material;
  boreMm: number;
  installedOn: IsoDate;
}

/** Lines that are cleaned in one visit: a pit with all that feeds it and its discharge, or a gravity line. */
export interface DemoSystem {
  lines: DemoLine[];
}

const LETTER: Record<LineKind, string> = {
  sump_discharge: 'D',
  footing_drain: 'F',
  floor_drain: 'L',
  yard_drain: 'Y',
};

/** The systems of one site; none for a thin one, whose lines the books do not name. */
export function demoSystems(site: DemoSite, chance: Chance): DemoSystem[] {
  if (site.thin) return [];
  const pumped = site.row.basement === 'none' ? 0.12 : 0.85;
  const systems: DemoSystem[] = [];
  const used = new Map<LineKind, number>();
  const draw = (kind: LineKind, toPit: boolean): DemoLine => {
    const number = (used.get(kind) ?? 0) + 1;
    used.set(kind, number);
    return demoLine(site, kind, `${site.row.siteId}-${LETTER[kind]}${number}`, toPit, chance);
  };
  if (chance.happens(pumped)) {
    const lines = [draw('sump_discharge', false), draw('footing_drain', true)];
    if (chance.happens(0.14)) lines.push(joining(draw('footing_drain', true), lines[1]));
    if (chance.happens(0.26)) lines.push(draw('floor_drain', true));
    systems.push({ lines });
    if (chance.happens(0.14)) systems.push({ lines: [draw('yard_drain', false)] });
  } else {
    const kind = chance.weighted<LineKind>({ footing_drain: 55, yard_drain: 30, floor_drain: 15 });
    systems.push({ lines: [draw(kind, false)] });
    if (chance.happens(0.2)) systems.push({ lines: [draw('yard_drain', false)] });
  }
  return systems;
}

/** The second footing drain of a house meets the first one before the pit. */
function joining(line: DemoLine, first: DemoLine | undefined): DemoLine {
  if (first === undefined) return line;
  return { ...line, row: { ...line.row, drainsTo: first.row.lineId } };
}

function demoLine(site: DemoSite, kind: LineKind, lineId: string, toPit: boolean, chance: Chance): DemoLine {
  const installedOn = laidOn(site, chance);
  const material = materialOf(kind, installedOn, chance);
  const boreMm = boreOf(kind, chance);
  const corrugated = material === 'corrugated_hdpe';
  const footing = kind === 'footing_drain';
  const age = dayNumber(installedOn);
  const tested = chance.happens(0.7);
  const row: LineRow = {
    lineId,
    siteId: site.row.siteId,
    kind,
    material: chance.happens(0.06) ? 'unknown' : material,
    boreMm: chance.happens(0.06) ? null : boreMm,
    lengthM: chance.happens(0.07) ? null : lengthOf(kind, chance),
    installedOn: chance.happens(0.9) ? installedOn : null,
    ferrousIronMgL: tested ? hundredths(site.ironMgL * Math.exp(0.15 * chance.normal())) : null,
    threshold: chance.happens(0.05) ? 0.35 : null,
    outlet: toPit ? 'unknown' : outletOf(kind, chance),
    drainsTo: chance.happens(0.6) ? (toPit ? 'pit' : 'outlet') : null,
    condition: conditionOf(age, chance),
    perforated: footing ? corrugated || chance.happens(0.5) : false,
    wrapped: footing && corrugated && chance.happens(0.8) ? chance.happens(0.45) : null,
    slopePct: kind === 'sump_discharge' || chance.happens(0.5) ? null : hundredths(chance.between(0.3, 2.5)),
  };
  return { row, material, boreMm, installedOn };
}

/** Most lines are as old as the house; some of an old house's were laid anew, long before the history begins. */
function laidOn(site: DemoSite, chance: Chance): IsoDate {
  const old = site.builtOn < '1995-01-01';
  if (!old || chance.happens(0.7)) return addDays(site.builtOn, chance.whole(0, 20));
  const lived = dayNumber('2015-06-01') - dayNumber(site.builtOn);
  return addDays(site.builtOn, Math.floor(lived * chance.between(0.4, 1)));
}

function materialOf(kind: LineKind, laid: IsoDate, chance: Chance): Material {
  if (kind === 'sump_discharge') return chance.weighted<Material>({ pvc: 78, corrugated_hdpe: 18, other: 4 });
  if (kind === 'floor_drain' && laid < '1985') return chance.weighted<Material>({ cast_iron: 75, clay: 25 });
  if (kind === 'floor_drain') return chance.weighted<Material>({ pvc: 92, cast_iron: 8 });
  if (laid < '1968') return chance.weighted<Material>({ clay: 75, concrete: 25 });
  if (kind === 'yard_drain') return chance.weighted<Material>({ corrugated_hdpe: 50, pvc: 35, concrete: 15 });
  return chance.weighted<Material>({ corrugated_hdpe: 66, pvc: 34 });
}

function boreOf(kind: LineKind, chance: Chance): number {
  const words = {
    sump_discharge: { '50': 40, '75': 40, '100': 20 },
    footing_drain: { '100': 88, '150': 12 },
    floor_drain: { '75': 45, '100': 55 },
    yard_drain: { '100': 50, '150': 35, '200': 15 },
  }[kind];
  return Number(chance.weighted(words as Record<string, number>));
}

function lengthOf(kind: LineKind, chance: Chance): number {
  const [from, to] = {
    sump_discharge: [6, 35],
    footing_drain: [18, 55],
    floor_drain: [3, 14],
    yard_drain: [6, 42],
  }[kind] as [number, number];
  return Math.round(chance.between(from, to) * 10) / 10;
}

function outletOf(kind: LineKind, chance: Chance): Outlet {
  if (kind === 'floor_drain')
    return chance.weighted<Outlet>({ storm_sewer: 55, sanitary_sewer: 15, unknown: 30 });
  return chance.weighted<Outlet>({
    daylight: 30,
    ditch: 18,
    creek: 8,
    pond: 4,
    kerb: 8,
    storm_sewer: 12,
    dry_well: 6,
    pop_up: 8,
    unknown: 6,
  });
}

function conditionOf(laidDay: number, chance: Chance): LineRow['condition'] {
  if (chance.happens(0.25)) return 'unknown';
  if (laidDay > dayNumber('2000-01-01')) return chance.weighted({ sound: 92, worn: 8 });
  return chance.weighted({ sound: 50, worn: 38, weak: 12 });
}

const hundredths = (value: number): number => Math.round(value * 100) / 100;
