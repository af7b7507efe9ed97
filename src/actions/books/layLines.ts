import { v7 as newId } from 'uuid';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { assumedLines, type Drainage, drainageOf, type Place } from '../../domain/work/assumedDrainage.js';
import { startsClean } from '../../domain/work/bookStart.js';
import type { ClientBase, LineRow, ReadingRow, SiteRow } from '../clientBase.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type FieldFault, Refused } from '../problems.js';
import { grouped } from './grouped.js';
import type { StoredLine, StoredPit } from './importStore.js';

/** Which of a line's facts nobody said. */
export type BookedLine = LineRow & { assumed?: string[] };

export interface LaidLines {
  /** Id of every line of the books, by its id there. */
  lineIds: Map<string, string>;
  /** Lines that were not in the base before: nothing hangs on them yet. */
  newIds: ReadonlySet<string>;
  /** Lines that came or took an assumed one's place, by the site's id in the books. */
  laid: Map<string, BookedLine[]>;
  systems: number;
  lines: number;
  alreadyThere: number;
}

interface Rows {
  system: Row[];
  pit: Row[];
  line: Row[];
  section: Row[];
  epoch: Row[];
}

interface Laying {
  source: string;
  asOf: IsoDate;
  readingsByLine: ReadonlyMap<string, ReadingRow[]>;
  /** By the site's id in the books. */
  lastCleaned: ReadonlyMap<string, IsoDate | null>;
  lineIds: Map<string, string>;
  rows: Rows;
  discharges: { pitId: string; lineId: string }[];
  /** Assumed lines that the books now name. */
  taken: { old: StoredLine; row: Row; line: BookedLine }[];
  faults: FieldFault[];
}

/**
 * Systems, pits and lines of the sites. Lines that are there stay as people left them; a new one finds its place
 * among them. A line that was only assumed becomes the first of its kind that the books name.
 *
 * @throws {Refused} When a line drains to one that stands on another site in the base.
 */
export async function layLines(
  stores: Stores,
  books: { base: ClientBase; source: string; asOf: IsoDate; siteIds: ReadonlyMap<string, string> },
  readingsByLine: ReadonlyMap<string, ReadingRow[]>,
): Promise<LaidLines> {
  const { base, source, asOf, siteIds } = books;
  const stored = await stores.imports.linesOf(source);
  const storedBySite = grouped(stored, (line) => line.siteId);
  const pitsBySite = grouped(await stores.imports.pitsOf(source), (pit) => pit.siteId);
  const linesBySite = grouped(base.lines, (line) => line.siteId);
  const at: Laying = {
    source,
    asOf,
    readingsByLine,
    lastCleaned: new Map(base.sites.map((site) => [site.siteId, site.lastCleaned])),
    lineIds: new Map(stored.flatMap(({ ref, id }) => (ref === null ? [] : [[ref, id]]))),
    rows: { system: [], pit: [], line: [], section: [], epoch: [] },
    discharges: [],
    taken: [],
    faults: [],
  };
  const laid = new Map<string, BookedLine[]>();
  let alreadyThere = 0;
  for (const site of base.sites) {
    const id = siteIds.get(site.siteId) ?? '';
    const there = storedBySite.get(id) ?? [];
    const booked = linesBySite.get(site.siteId) ?? [];
    const fresh: BookedLine[] = booked.filter((line) => !at.lineIds.has(line.lineId));
    alreadyThere += booked.length - fresh.length;
    if (booked.length === 0 && there.length === 0) fresh.push(...presumed(site));
    if (fresh.length === 0) continue;
    laid.set(site.siteId, fresh);
    laySite(id, fresh, there, pitsBySite.get(id) ?? [], at);
  }
  if (at.faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'import', faults: at.faults });
  const newIds = new Set(at.rows.line.map((row) => String(row['id'])));
  const { systems, lines } = await write(stores, at);
  return { lineIds: at.lineIds, newIds, laid, systems, lines, alreadyThere };
}

/** Thin books: the lines such a house usually has, all marked as assumed, until the first survey. */
function presumed(site: SiteRow): BookedLine[] {
  return assumedLines().map((kind) => ({
    lineId: `${site.siteId}:${kind}`,
    siteId: site.siteId,
    kind,
    material: 'unknown',
    boreMm: null,
    lengthM: null,
    installedOn: site.builtOn,
    ferrousIronMgL: null,
    threshold: null,
    outlet: 'unknown',
    drainsTo: null,
    condition: 'unknown',
    perforated: null,
    wrapped: null,
    slopePct: null,
    assumed: ['exists', 'kind', 'material', 'bore', 'length', 'outlet'],
  }));
}

function laySite(
  siteId: string,
  fresh: readonly BookedLine[],
  there: readonly StoredLine[],
  pits: readonly StoredPit[],
  at: Laying,
): void {
  const taken = takePresumed(fresh, there);
  for (const line of fresh) at.lineIds.set(line.lineId, taken.get(line)?.id ?? newId());
  const takenIds = new Set([...taken.values()].map(({ id }) => id));
  const staying = there.filter(({ id }) => !takenIds.has(id));
  const systemOf = new Map(staying.flatMap(({ ref, systemId }) => (ref === null ? [] : [[ref, systemId]])));
  if (strayTargets(fresh, systemOf, at)) return;

  const plan = drainageOf(
    fresh.map((line) => ({ ref: line.lineId, kind: line.kind, drainsTo: line.drainsTo })),
    {
      systemOf,
      pits: pits.map(({ systemId, dischargeLineId }) => ({
        system: systemId,
        hasDischarge: dischargeLineId !== null && !takenIds.has(dischargeLineId),
      })),
    },
  );
  const ids = systemIds(siteId, plan, pits, at.rows);
  for (const line of fresh) {
    const place = plan.lines.get(line.lineId);
    if (!place) throw new RangeError(`no place inferred for line ${line.lineId}`);
    layLine(siteId, line, place, ids, taken.get(line), at);
  }
}

/** The assumed line of its kind that a line of the books takes the place of. */
function takePresumed(
  fresh: readonly BookedLine[],
  there: readonly StoredLine[],
): Map<BookedLine, StoredLine> {
  const free = there.filter((line) => !line.archived && line.assumed.includes('exists'));
  const taken = new Map<BookedLine, StoredLine>();
  for (const line of fresh) {
    const at = free.findIndex(({ kind }) => kind === line.kind);
    const [old] = at < 0 ? [] : free.splice(at, 1);
    if (old) taken.set(line, old);
  }
  return taken;
}

/** Notes lines that drain to one which stands elsewhere, or not at all. */
function strayTargets(
  fresh: readonly BookedLine[],
  systemOf: ReadonlyMap<string, string>,
  at: Laying,
): boolean {
  const here = new Set(fresh.map(({ lineId }) => lineId));
  const stray = fresh.filter(
    ({ drainsTo }) =>
      drainsTo !== null &&
      drainsTo !== 'pit' &&
      drainsTo !== 'outlet' &&
      !here.has(drainsTo) &&
      !systemOf.has(drainsTo),
  );
  for (const { lineId, siteId, drainsTo } of stray) {
    at.faults.push({
      pointer: `#/lines/${lineId}/drainsTo`,
      detail: `line ${lineId} drains to ${drainsTo}, which in the base does not stand on site ${siteId}`,
      remedy: `name a line that stands there, pit, or outlet; or move ${drainsTo} to that site first`,
    });
  }
  return stray.length > 0;
}

interface SystemIds {
  system: string[];
  pit: (string | null)[];
}

function systemIds(siteId: string, plan: Drainage, pits: readonly StoredPit[], rows: Rows): SystemIds {
  const pitOf = new Map(pits.map(({ systemId, id }) => [systemId, id]));
  const ids: SystemIds = { system: [], pit: [] };
  for (const { there, name, kind, assumed } of plan.systems) {
    const id = there ?? newId();
    ids.system.push(id);
    if (there !== null) {
      ids.pit.push(pitOf.get(there) ?? null);
      continue;
    }
    rows.system.push({ id, site_id: siteId, name, kind, assumed });
    const pitId = kind === 'pit' ? newId() : null;
    ids.pit.push(pitId);
    if (pitId !== null)
      rows.pit.push({ id: pitId, site_id: siteId, system_id: id, enterable: false, assumed });
  }
  return ids;
}

function layLine(
  siteId: string,
  line: BookedLine,
  place: Place,
  ids: SystemIds,
  old: StoredLine | undefined,
  at: Laying,
): void {
  const id = at.lineIds.get(line.lineId) ?? '';
  const row = {
    id,
    site_id: siteId,
    system_id: ids.system[place.system],
    name: line.assumed ? `${line.kind.replaceAll('_', ' ')} (assumed)` : line.lineId,
    kind: line.kind,
    drains_to: place.drainsTo,
    drains_to_pit_id: place.drainsToPit === null ? null : ids.pit[place.drainsToPit],
    drains_to_line_id: place.drainsToLine === null ? null : at.lineIds.get(place.drainsToLine),
    outlet: line.outlet,
    length_m: line.lengthM,
    installed_on: line.installedOn,
    ferrous_iron_mg_l: line.ferrousIronMgL,
    perforated: line.perforated,
    wrapped: line.wrapped,
    action_limit: line.threshold,
    main_material: line.material,
    main_bore_mm: line.boreMm,
    assumed: assumedOf(line, place),
    source: at.source,
    external_ref: line.lineId,
  };
  const pitId = place.isDischarge ? ids.pit[place.system] : null;
  if (pitId) at.discharges.push({ pitId, lineId: id });
  if (old) {
    at.taken.push({ old, row, line });
    return;
  }
  at.rows.line.push(row);
  at.rows.section.push({ id: newId(), line_id: id, ...sectionFacts(line) });
  at.rows.epoch.push({ id: newId(), line_id: id, ...epochOf(line, at) });
}

function assumedOf(line: BookedLine, place: Place): string[] {
  const unknown = [
    ...(line.assumed ?? []),
    ...place.assumed,
    ...(line.material === 'unknown' ? ['material'] : []),
    ...(line.boreMm === null ? ['bore'] : []),
    ...(line.lengthM === null ? ['length'] : []),
  ];
  return [...new Set(unknown)];
}

const sectionFacts = (line: LineRow): Row => ({
  material: line.material,
  bore_mm: line.boreMm,
  condition: line.condition,
  slope: line.slopePct === null ? null : line.slopePct / 100,
  installed_on: line.installedOn,
});

/** Whether the line started clean: seen first soon after it was laid, and no earlier visits lost by the book. */
function epochOf(line: LineRow, { readingsByLine, lastCleaned, asOf }: Laying): Row {
  const readings = readingsByLine.get(line.lineId) ?? [];
  const [firstRead] = readings.map(({ observedAt }) => observedAt.slice(0, 10)).sort();
  const first = firstRead ?? lastCleaned.get(line.siteId) ?? asOf;
  const laidDay = line.installedOn === null ? null : dayNumber(line.installedOn);
  const clean = startsClean(laidDay, dayNumber(first), readings.length);
  return {
    started_on: clean ? line.installedOn : addDays(first, -1),
    begins: clean ? 'clean' : 'unknown',
    because: clean ? 'installed' : 'first_record',
  };
}

async function write(stores: Stores, at: Laying): Promise<{ systems: number; lines: number }> {
  const { rows, discharges, taken } = at;
  const systems = await stores.imports.add('system', rows.system);
  await stores.imports.add('pit', rows.pit);
  const lines = await stores.imports.add('line', rows.line);
  await stores.imports.add('line_section', rows.section);
  await stores.imports.add('epoch', rows.epoch);
  for (const each of taken) await takePlace(stores, each, at);
  if (discharges.length > 0) await stores.imports.setDischarges(discharges);
  return { systems, lines: lines + taken.length };
}

/** Fills an assumed line with what the books know of it; what people found out meanwhile stays. */
async function takePlace(
  stores: Stores,
  { old, row, line }: Laying['taken'][number],
  at: Laying,
): Promise<void> {
  const { assumed, id: _id, main_material: _material, main_bore_mm: _bore, ...facts } = row;
  await stores.rows.update('line', old.id, {
    ...told(facts),
    drains_to_pit_id: row['drains_to_pit_id'],
    drains_to_line_id: row['drains_to_line_id'],
    assumed: (assumed as string[]).filter((fact) => fact === 'drains_to' || old.assumed.includes(fact)),
  });
  const ofLine = [{ column: 'line_id', is: '=' as const, value: old.id }];
  const [section] = await stores.rows.all('line_section', ofLine);
  if (section) await stores.rows.update('line_section', String(section['id']), told(sectionFacts(line)));
  const [epoch] = await stores.rows.all('epoch', ofLine, 'started_on');
  if (epoch) await stores.rows.update('epoch', String(epoch['id']), epochOf(line, at));
}

const told = (facts: Row): Row =>
  Object.fromEntries(Object.entries(facts).filter(([, value]) => value !== null && value !== 'unknown'));
