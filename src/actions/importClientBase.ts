import { v7 as newId } from 'uuid';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import { bringCrews } from './books/bringCrews.js';
import { type Bringing, cleanRow, inspectionRow } from './books/findings.js';
import { grouped } from './books/grouped.js';
import { type LaidLines, layLines } from './books/layLines.js';
import type { ClientBase, ReadingRow, SiteRow } from './clientBase.js';
import type { House, Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { Refused } from './problems.js';

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

class DryRun extends Error {}

/**
 * Brings a client base in, all or nothing. Records that came before from the same source stay as people left
 * them, those taken out of force too; only new ones are added, so a file set may be imported again as it grows.
 *
 * @throws {Refused} While another import writes, or when what is new does not fit what is there.
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
  if (!(await stores.imports.takeTurn())) {
    const detail =
      'Another import is under way; nothing of this one was kept. Start it again when that has ended.';
    throw new Refused({ code: 'busy', detail });
  }
  const crews = await bringCrews(stores, base.crews, source);
  onProgress?.(0.05, 'crews');
  const sites = await bringSites(stores, base.sites, source);
  onProgress?.(0.1, 'sites');
  const readingsByLine = grouped(base.readings, (reading) => reading.lineId);
  const lines = await layLines(stores, { base, source, asOf, siteIds: sites.siteIds }, readingsByLine);
  onProgress?.(0.4, 'lines');
  const findings = await bringFindings(stores, ask, lines, readingsByLine, {
    crewIds: crews.crewIds,
    bringing: { author: actor.name, source },
  });
  const counts = {
    clients: sites.clients,
    sites: sites.sites,
    systems: lines.systems,
    lines: lines.lines,
    inspections: findings.inspections,
    cleans: findings.cleans,
    crews: crews.crews,
    alreadyThere: crews.alreadyThere + sites.alreadyThere + lines.alreadyThere + findings.alreadyThere,
  };
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

async function bringSites(stores: Stores, sites: readonly SiteRow[], source: string) {
  const clientIds = await stores.imports.known('client', source);
  const siteIds = await stores.imports.known('site', source);
  const fresh = sites.filter(({ siteId }) => !siteIds.has(siteId));
  const clients: Row[] = [];
  const owners: Row[] = [];
  const rows = fresh.map((site) => {
    let clientId = clientIds.get(site.client);
    if (clientId === undefined) {
      clientId = newId();
      clientIds.set(site.client, clientId);
      clients.push(clientRow(clientId, site, source));
    }
    const id = newId();
    siteIds.set(site.siteId, id);
    owners.push({ id: newId(), site_id: id, client_id: clientId });
    return siteRow(id, site, source);
  });
  await stores.imports.add('client', clients);
  await stores.imports.add('site', rows);
  await stores.imports.add('site_client', owners);
  return {
    siteIds,
    clients: clients.length,
    sites: rows.length,
    alreadyThere: sites.length - fresh.length,
  };
}

const clientRow = (id: string, site: SiteRow, source: string): Row => ({
  id,
  name: site.client,
  phone: site.clientPhone,
  email: site.clientEmail,
  source,
  external_ref: site.client,
});

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
  basement: site.basement,
  tap: site.tap,
  builder: site.builder,
  built_on: site.builtOn,
  source,
  external_ref: site.siteId,
});

/** Readings, the cleans that they imply, and the last clean of sites whose lines have no reading. */
async function bringFindings(
  stores: Stores,
  { base, onProgress }: ImportAsk,
  lines: LaidLines,
  readingsByLine: ReadonlyMap<string, ReadingRow[]>,
  { crewIds, bringing }: { crewIds: ReadonlyMap<string, string>; bringing: Bringing },
) {
  const facts = new Map(base.lines.map((line) => [line.lineId, line]));
  const counted = { inspections: 0, cleans: 0 };
  const crewOf = ({ crewId }: ReadingRow) => (crewId === null ? null : (crewIds.get(crewId) ?? null));

  function* inspections(isNew: boolean): Generator<Row> {
    for (const [ref, readings] of readingsByLine) {
      const lineId = lines.lineIds.get(ref);
      if (lineId === undefined || lines.newIds.has(lineId) !== isNew) continue;
      for (const reading of readings) {
        if (!reading.plugged && reading.occlusion === null) continue;
        counted.inspections++;
        yield inspectionRow(lineId, reading, facts.get(ref), crewOf(reading), bringing);
      }
    }
  }

  function* cleans(isNew: boolean): Generator<Row> {
    for (const [ref, readings] of readingsByLine) {
      const lineId = lines.lineIds.get(ref);
      if (lineId === undefined || lines.newIds.has(lineId) !== isNew) continue;
      // Read by two methods on one visit, cleaned once.
      const times = new Set<string>();
      for (const reading of readings) {
        if (reading.phase !== 'before_cleaning' || times.has(reading.observedAt)) continue;
        times.add(reading.observedAt);
        counted.cleans++;
        yield cleanRow(lineId, reading.observedAt, crewOf(reading), bringing);
      }
    }
    for (const { siteId, lastCleaned } of base.sites) {
      if (lastCleaned === null) continue;
      for (const { lineId: ref } of lines.laid.get(siteId) ?? []) {
        const lineId = lines.lineIds.get(ref) ?? '';
        if (lines.newIds.has(lineId) !== isNew || readingsByLine.has(ref)) continue;
        counted.cleans++;
        yield cleanRow(lineId, `${lastCleaned}T12:00:00Z`, null, bringing);
      }
    }
  }

  const { imports } = stores;
  let inspected = await imports.add('inspection', inspections(true));
  inspected += await imports.addUnlessThere('inspection', inspections(false));
  onProgress?.(0.75, 'readings');
  let cleaned = await imports.add('clean', cleans(true));
  cleaned += await imports.addUnlessThere('clean', cleans(false));
  return {
    inspections: inspected,
    cleans: cleaned,
    alreadyThere: counted.inspections - inspected + counted.cleans - cleaned,
  };
}
