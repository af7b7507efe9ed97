import { v7 as newId } from 'uuid';
import { addDays, dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { CONVERSION_VERSION, occlusionOf } from '../domain/readings/occlusionOf.js';
import type { LineKind } from '../domain/words.js';
import { assumedLines, drainageOf } from '../domain/work/assumedDrainage.js';
import { startsClean } from '../domain/work/bookStart.js';
import type { ClientBase, LineRow, ReadingRow, SiteRow } from './clientBase.js';
import type { House, Stores } from './house.js';
import type { Actor, Row } from './ports.js';

export interface ImportCounts {
  clients: number;
  sites: number;
  systems: number;
  lines: number;
  inspections: number;
  cleans: number;
  crews: number;
  /** Records the base had already: left as they are. */
  alreadyThere: number;
}

export interface ImportAsk {
  base: ClientBase;
  /** Names the books the ids come from; the same source again meets its own records. */
  source: string;
  asOf: IsoDate;
  onProgress?: (share: number, what: string) => void;
}

const ALWAYS: IsoDate = '2000-01-01';

class DryRun extends Error {}

/**
 * Brings a client base in, all or nothing. Records that came before from the same source stay as people left
 * them; only new ones are added, so a file set may be imported again as it grows.
 */
export async function importClientBase(
  house: House,
  actor: Pick<Actor, 'name'>,
  ask: ImportAsk,
  options: { dryRun?: boolean } = {},
): Promise<ImportCounts> {
  let counts: ImportCounts | undefined;
  try {
    return await house.transact(actor, async (stores) => {
      counts = await writeBase(stores, actor, ask);
      if (options.dryRun) throw new DryRun();
      return counts;
    });
  } catch (error) {
    if (error instanceof DryRun && counts) return counts;
    throw error;
  }
}

async function writeBase(stores: Stores, actor: Pick<Actor, 'name'>, ask: ImportAsk): Promise<ImportCounts> {
  const { base, source, asOf, onProgress } = ask;
  const counts: ImportCounts = {
    clients: 0,
    sites: 0,
    systems: 0,
    lines: 0,
    inspections: 0,
    cleans: 0,
    crews: 0,
    alreadyThere: 0,
  };
  const known = async (table: string) =>
    new Map(
      (await stores.rows.all(table, [{ column: 'source', is: '=', value: source }])).map((row) => [
        String(row['external_ref']),
        String(row['id']),
      ]),
    );

  const crewIds = await writeCrews(stores, ask, counts, await known('crew'));
  onProgress?.(0.05, 'crews');

  const clientIds = await known('client');
  const siteIds = await known('site');
  const lineIds = await known('line');
  const rows = {
    client: [] as Row[],
    site: [] as Row[],
    owner: [] as Row[],
    system: [] as Row[],
    pit: [] as Row[],
    line: [] as Row[],
    section: [] as Row[],
    epoch: [] as Row[],
  };
  const discharges: { pitId: string; lineId: string }[] = [];

  const linesBySite = group(base.lines, (line) => line.siteId);
  const readingsByLine = group(base.readings, (reading) => reading.lineId);
  const cleans: Row[] = [];

  for (const site of base.sites) {
    if (siteIds.has(site.siteId)) {
      counts.alreadyThere++;
    } else {
      let clientId = clientIds.get(site.client);
      if (!clientId) {
        clientId = newId();
        clientIds.set(site.client, clientId);
        rows.client.push({
          id: clientId,
          name: site.client,
          phone: site.clientPhone,
          email: site.clientEmail,
          source,
          external_ref: site.client,
        });
      }
      const id = newId();
      siteIds.set(site.siteId, id);
      rows.site.push(siteRow(id, site, source));
      rows.owner.push({ id: newId(), site_id: id, client_id: clientId });
    }
    const siteLines = linesBySite.get(site.siteId) ?? [];
    const fresh = siteLines.filter((line) => !lineIds.has(line.lineId));
    counts.alreadyThere += siteLines.length - fresh.length;
    const siteId = siteIds.get(site.siteId) ?? '';
    if (siteLines.length === 0) {
      // Thin books: the lines such a house usually has, all marked as assumed, until the first survey.
      const assumed = assumedLines().map((kind): LineRow & { assumed: string[] } => ({
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
      fresh.push(...assumed.filter((line) => !lineIds.has(line.lineId)));
    }
    const firstOf = (line: LineRow): IsoDate =>
      firstDay(readingsByLine.get(line.lineId) ?? []) ?? site.lastCleaned ?? asOf;
    layLines(siteId, fresh, { rows, discharges, lineIds, source, firstOf, readingsByLine });
    if (site.lastCleaned !== null) {
      for (const line of fresh) {
        const id = lineIds.get(line.lineId);
        if (id && !readingsByLine.has(line.lineId))
          cleans.push(cleanRow(id, `${site.lastCleaned}T12:00:00Z`, actor.name, source, null));
      }
    }
  }

  counts.clients += await stores.rows.insertMany('client', rows.client);
  counts.sites += await stores.rows.insertMany('site', rows.site);
  await stores.rows.insertMany('site_client', rows.owner);
  counts.systems += await stores.rows.insertMany('system', rows.system);
  await stores.rows.insertMany('pit', rows.pit);
  onProgress?.(0.2, 'sites');
  counts.lines += await stores.rows.insertMany('line', rows.line);
  await stores.rows.insertMany('line_section', rows.section);
  await stores.rows.insertMany('epoch', rows.epoch);
  for (const { pitId, lineId } of discharges)
    await stores.rows.update('pit', pitId, { discharge_line_id: lineId });
  onProgress?.(0.45, 'lines');

  const inspections: Row[] = [];
  const facts = new Map(base.lines.map((line) => [line.lineId, line]));
  for (const reading of base.readings) {
    const lineId = lineIds.get(reading.lineId);
    if (!lineId) continue;
    const crewId = reading.crewId === null ? null : (crewIds.get(reading.crewId) ?? null);
    if (reading.plugged || reading.occlusion !== null)
      inspections.push(inspectionRow(lineId, reading, facts.get(reading.lineId), actor.name, source, crewId));
    if (reading.phase === 'before_cleaning')
      cleans.push(cleanRow(lineId, reading.observedAt, actor.name, source, crewId));
  }
  counts.inspections += await stores.rows.insertMany('inspection', inspections, { skipDoubles: true });
  onProgress?.(0.85, 'readings');
  counts.cleans += await stores.rows.insertMany('clean', cleans, { skipDoubles: true });
  counts.alreadyThere += inspections.length - counts.inspections + (cleans.length - counts.cleans);
  await stores.rows.insert('import_run', {
    id: newId(),
    source,
    asked_by: actor.name,
    counts: { ...counts },
    files: {
      sites: base.sites.length,
      lines: base.lines.length,
      readings: base.readings.length,
      crews: base.crews.length,
    },
  });
  onProgress?.(1, 'done');
  return counts;
}

function group<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const held = groups.get(key);
    if (held) held.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}

const siteRow = (id: string, site: SiteRow, source: string): Row => ({
  id,
  address: site.address,
  town: site.town,
  area: site.area,
  postal_code: site.postalCode,
  latitude: site.latitude,
  longitude: site.longitude,
  access: site.access,
  access_notes: site.accessNotes,
  hours: [],
  basement: site.basement,
  tap: site.tap,
  early_visits_ok: false,
  builder: site.builder,
  built_on: site.builtOn,
  source,
  external_ref: site.siteId,
  version: 1,
  created_at: 'now',
  updated_at: 'now',
});

interface Laying {
  rows: { system: Row[]; pit: Row[]; line: Row[]; section: Row[]; epoch: Row[] };
  discharges: { pitId: string; lineId: string }[];
  lineIds: Map<string, string>;
  source: string;
  /** Day of a line's first record; today's where there is none. */
  firstOf: (line: LineRow) => IsoDate;
  readingsByLine: Map<string, ReadingRow[]>;
}

/** Systems, pits and what drains to what, inferred from the kinds where the books are silent, and marked so. */
function layLines(siteId: string, lines: (LineRow & { assumed?: string[] })[], at: Laying): void {
  const plan = drainageOf(
    lines.map((line) => ({ ref: line.lineId, kind: line.kind as LineKind, drainsTo: line.drainsTo })),
  );
  const systemIds = plan.systems.map((system) => {
    const id = newId();
    at.rows.system.push({
      id,
      site_id: siteId,
      name: system.name,
      kind: system.kind,
      assumed: system.assumed,
    });
    return id;
  });
  const pitIds = plan.systems.map((system, i) => {
    if (system.kind !== 'pit') return null;
    const id = newId();
    at.rows.pit.push({
      id,
      site_id: siteId,
      system_id: systemIds[i],
      enterable: false,
      assumed: system.assumed,
    });
    return id;
  });
  for (const line of lines) at.lineIds.set(line.lineId, newId());
  for (const line of lines) {
    const place = plan.lines.get(line.lineId);
    const id = at.lineIds.get(line.lineId) ?? '';
    if (!place) throw new RangeError(`no place inferred for line ${line.lineId}`);
    const pitId = place.drainsTo === 'pit' ? (pitIds[place.system] ?? null) : null;
    const unknown = [
      ...(line.assumed ?? []),
      ...place.assumed,
      ...(line.material === 'unknown' ? ['material'] : []),
      ...(line.boreMm === null ? ['bore'] : []),
      ...(line.lengthM === null ? ['length'] : []),
    ];
    at.rows.line.push({
      id,
      site_id: siteId,
      system_id: systemIds[place.system],
      name: line.assumed ? `${line.kind.replaceAll('_', ' ')} (assumed)` : line.lineId,
      kind: line.kind,
      drains_to: place.drainsTo,
      drains_to_pit_id: pitId,
      drains_to_line_id: place.drainsToLine === null ? null : (at.lineIds.get(place.drainsToLine) ?? null),
      outlet: line.outlet,
      length_m: line.lengthM,
      installed_on: line.installedOn,
      ferrous_iron_mg_l: line.ferrousIronMgL,
      perforated: line.perforated,
      wrapped: line.wrapped,
      slots_blocked: false,
      under_slab: false,
      deposit: 'unknown',
      action_limit: line.threshold,
      main_material: line.material,
      main_bore_mm: line.boreMm,
      assumed: [...new Set(unknown)],
      source: at.source,
      external_ref: line.lineId,
      version: 1,
      created_at: 'now',
      updated_at: 'now',
    });
    at.rows.section.push({
      id: newId(),
      line_id: id,
      material: line.material,
      bore_mm: line.boreMm,
      condition: line.condition,
      slope: line.slopePct === null ? null : line.slopePct / 100,
      installed_on: line.installedOn,
      assumed: [],
      version: 1,
      created_at: 'now',
      updated_at: 'now',
    });
    if (place.isDischarge) {
      const own = pitIds[place.system];
      if (own) at.discharges.push({ pitId: own, lineId: id });
    }
    const readings = at.readingsByLine.get(line.lineId) ?? [];
    at.rows.epoch.push(epochRow(id, line, readings.length, at.firstOf(line)));
  }
}

const firstDay = (readings: readonly ReadingRow[]): IsoDate | undefined =>
  readings.map((reading) => reading.observedAt.slice(0, 10)).sort()[0];

/** Whether the line started clean: seen first soon after it was laid, and no earlier visits lost by the book. */
function epochRow(lineId: string, line: LineRow, readings: number, first: IsoDate): Row {
  const laidDay = line.installedOn === null ? null : dayNumber(line.installedOn);
  const clean = startsClean(laidDay, dayNumber(first), readings);
  return {
    id: newId(),
    line_id: lineId,
    started_on: clean ? line.installedOn : addDays(first, -1),
    begins: clean ? 'clean' : 'unknown',
    because: clean ? 'installed' : 'first_record',
  };
}

function inspectionRow(
  lineId: string,
  reading: ReadingRow,
  line: LineRow | undefined,
  author: string,
  source: string,
  crewId: string | null,
): Row {
  const method = reading.method;
  const got =
    reading.occlusion === null || method === null
      ? null
      : occlusionOf(
          { method, share: reading.occlusion },
          {
            kind: line?.kind ?? 'footing_drain',
            material: line?.material ?? 'unknown',
            boreMm: line?.boreMm ?? null,
            slope: line?.slopePct == null ? null : line.slopePct / 100,
            cleanDrawdownMmPerMinute: null,
          },
        );
  if (got && !got.ok)
    throw new RangeError(`reading of ${reading.lineId} at ${reading.observedAt}: ${got.faults[0]?.detail}`);
  return {
    id: newId(),
    line_id: lineId,
    observed_at: reading.observedAt,
    received_at: reading.observedAt,
    author,
    crew_id: crewId,
    phase: reading.phase,
    method,
    raw: reading.occlusion === null ? {} : { share: reading.occlusion },
    conversion_version: CONVERSION_VERSION,
    occlusion: got?.occlusion ?? null,
    standard_error: got?.standardError ?? null,
    bound: got?.bound ?? 'exact',
    plugged: reading.plugged,
    plug_cause: reading.plugged ? (reading.plugCause ?? 'unknown') : null,
    deposit: reading.deposit,
    distance_m: reading.distanceM,
    notes: got?.notes ?? [],
    note: reading.note,
    source,
    version: 1,
    created_at: 'now',
    updated_at: 'now',
  };
}

const cleanRow = (
  lineId: string,
  at: string,
  author: string,
  source: string,
  crewId: string | null,
): Row => ({
  id: newId(),
  line_id: lineId,
  cleaned_at: at,
  received_at: at,
  author,
  crew_id: crewId,
  inferred: true,
  source,
  version: 1,
  created_at: 'now',
  updated_at: 'now',
});

async function writeCrews(
  stores: Stores,
  { base, source }: ImportAsk,
  counts: ImportCounts,
  known: Map<string, string>,
): Promise<Map<string, string>> {
  const depots = new Map(
    (await stores.rows.all('depot', [])).map((row) => [String(row['name']), String(row['id'])]),
  );
  for (const crew of base.crews) {
    if (known.has(crew.crewId)) {
      counts.alreadyThere++;
      continue;
    }
    let depotId = depots.get(crew.depot);
    if (!depotId) {
      depotId = newId();
      depots.set(crew.depot, depotId);
      await stores.rows.insert('depot', {
        id: depotId,
        name: crew.depot,
        latitude: crew.depotLatitude,
        longitude: crew.depotLongitude,
      });
    }
    const id = newId();
    known.set(crew.crewId, id);
    counts.crews++;
    await stores.rows.insert('crew', {
      id,
      name: crew.name,
      depot_id: depotId,
      people: crew.people,
      source,
      external_ref: crew.crewId,
    });
    for (const kind of crew.kit) {
      const kitId = newId();
      await stores.rows.insert('kit_item', {
        id: kitId,
        name: `${crew.name}: ${kind.replaceAll('_', ' ')}`,
        kind,
        depot_id: depotId,
        source,
        external_ref: `${crew.crewId}:${kind}`,
      });
      await stores.rows.insert('crew_kit', {
        id: newId(),
        crew_id: id,
        kit_item_id: kitId,
        from_day: ALWAYS,
      });
    }
    for (const weekday of crew.weekdays) {
      await stores.rows.insert('shift', {
        id: newId(),
        crew_id: id,
        weekday,
        starts_at: crew.shiftStart,
        ends_at: crew.shiftEnd,
        from_day: ALWAYS,
      });
    }
  }
  return known;
}
