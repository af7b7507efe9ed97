import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { SiteRow } from '../actions/clientBase.js';
import { ACCESS, BASEMENTS, YES_NO_UNKNOWN } from '../domain/words.js';
import { checkNotLater, type Ids, noIds, type Reading, takeId } from './clientBaseReading.js';
import {
  noteCell,
  optionalDayCell,
  optionalNumberCell,
  optionalTextCell,
  textCell,
  wordCellOr,
} from './csvCells.js';
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
  alsoCalled: {
    client: ['customer', 'client_name', 'customer_name', 'owner', 'name'],
    address: ['street', 'street_address', 'site_address'],
    site_id: ['id', 'site', 'site_no', 'site_number', 'property_id'],
    town: ['city', 'municipality'],
    latitude: ['lat'],
    longitude: ['lon', 'lng', 'long'],
    area: ['district', 'neighbourhood', 'neighborhood', 'subdivision'],
    client_phone: ['phone', 'telephone', 'tel', 'mobile', 'phone_number'],
    client_email: ['email', 'e_mail', 'mail'],
    built_on: ['built', 'year_built'],
    last_cleaned: ['last_cleaning', 'last_service', 'last_serviced', 'last_visit', 'cleaned_on'],
    postal_code: ['zip', 'zip_code', 'postcode'],
  },
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
  access_notes: noteCell(2000),
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
  const offMap = new SitesOffMap();
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
      offMap.look(row, line);
      checkNotLater('built_on', row.built_on, reading, note);
      checkNotLater('last_cleaned', row.last_cleaned, reading, note);
      sites.push(toSite(row));
    },
    reading.onProgress,
  );
  offMap.report(source.name, reading);
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

/** Sites that nobody put on the map: a thin book has none, but a person should know what follows. */
class SitesOffMap {
  private sites = 0;
  private off = 0;
  private firstLine: number | null = null;

  look({ latitude }: z.output<typeof ROW>, line: number): void {
    this.sites += 1;
    if (latitude !== null) return;
    this.off += 1;
    this.firstLine ??= line;
  }

  report(file: string, { faults }: Reading): void {
    if (this.off === 0) return;
    const place = 'in the middle of the other sites of their area, else at the depots';
    const text = `without latitude and longitude: ${this.off} of ${this.sites} sites; routes take them to stand ${place}`;
    faults.remark(file, this.firstLine, text);
  }
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
