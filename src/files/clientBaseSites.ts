import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { SiteRow } from '../actions/clientBase.js';
import { ACCESS, BASEMENTS, YES_NO_UNKNOWN } from '../domain/words.js';
import { checkNotLater, type Ids, noIds, type Reading, takeId } from './clientBaseReading.js';
import { optionalDayCell, optionalNumberCell, optionalTextCell, textCell, wordCellOr } from './csvCells.js';
import type { Columns } from './csvHeader.js';
import { noteAt, parsedRow, type RowFaultNote } from './csvRow.js';
import type { CsvSource } from './csvSource.js';
import { type Cells, readTable } from './csvTable.js';

/** Thin books: client and address are enough. */
export const SITE_COLUMNS: Columns = {
  required: ['client', 'address'],
  optional: [
    'site_id',
    'town',
    'latitude',
    'longitude',
    'access',
    'area',
    'basement',
    'client_phone',
    'client_email',
    'builder',
    'built_on',
    'access_notes',
    'tap',
    'last_cleaned',
    'postal_code',
  ],
};

const ROW = z.object({
  site_id: optionalTextCell(120),
  client: textCell(200),
  address: textCell(300),
  town: optionalTextCell(120),
  latitude: optionalNumberCell({ unit: 'degrees north', min: -90, max: 90 }),
  longitude: optionalNumberCell({ unit: 'degrees east', min: -180, max: 180 }),
  access: wordCellOr(ACCESS, 'anytime'),
  area: optionalTextCell(120),
  basement: wordCellOr(BASEMENTS, 'unknown'),
  client_phone: optionalTextCell(40),
  client_email: optionalTextCell(200),
  builder: optionalTextCell(200),
  built_on: optionalDayCell(),
  access_notes: optionalTextCell(2000),
  tap: wordCellOr(YES_NO_UNKNOWN, 'unknown'),
  last_cleaned: optionalDayCell(),
  postal_code: optionalTextCell(20),
});

export async function readSites(
  source: CsvSource,
  reading: Reading,
): Promise<{ sites: SiteRow[]; ids: Ids }> {
  const sites: SiteRow[] = [];
  const ids = noIds();
  ids.whole = await readTable(
    source,
    SITE_COLUMNS,
    reading.faults,
    (line, cells) => {
      const note = noteAt(source.name, line, reading.faults);
      takeSiteId(ids, cells, line, note);
      const row = parsedRow(ROW, cells, note);
      if (row === null) return;
      checkCoordinates(row, note);
      checkNotLater('built_on', row.built_on, reading, note);
      checkNotLater('last_cleaned', row.last_cleaned, reading, note);
      sites.push(toSite(row));
    },
    reading.onProgress,
  );
  return { sites, ids };
}

function takeSiteId(ids: Ids, cells: Cells, line: number, note: RowFaultNote): void {
  const given = cells['site_id'] ?? '';
  if (given !== '') {
    takeId(ids, 'site_id', given, line, note);
    return;
  }
  const { client = '', address = '' } = cells;
  const derived = derivedId(client, address);
  const first = ids.lineOf.get(derived);
  if (first === undefined || client === '' || address === '') ids.lineOf.set(derived, line);
  else {
    const remedy = 'remove one of the rows, or give each its site_id';
    note('address', address, `doubled: line ${first} has the same client and address`, remedy);
  }
}

function checkCoordinates(row: z.output<typeof ROW>, note: RowFaultNote): void {
  if ((row.latitude === null) === (row.longitude === null)) return;
  const missing = row.latitude === null ? 'latitude' : 'longitude';
  note(missing, '', 'one coordinate without the other', 'give both, or neither');
}

function toSite(row: z.output<typeof ROW>): SiteRow {
  const town = row.town ?? 'unknown';
  return {
    siteId: row.site_id ?? derivedId(row.client, row.address),
    client: row.client,
    address: row.address,
    town,
    latitude: row.latitude,
    longitude: row.longitude,
    access: row.access,
    area: row.area ?? town,
    basement: row.basement,
    clientPhone: row.client_phone,
    clientEmail: row.client_email,
    builder: row.builder,
    builtOn: row.built_on,
    accessNotes: row.access_notes,
    tap: row.tap,
    postalCode: row.postal_code,
    lastCleaned: row.last_cleaned,
  };
}

/** The same client at the same address is the same site, import after import. */
function derivedId(client: string, address: string): string {
  const words = `${client}|${address}`.toLowerCase().replace(/\s+/g, ' ');
  return `site-${createHash('sha256').update(words).digest('hex').slice(0, 12)}`;
}
