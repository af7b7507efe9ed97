import { stringify } from 'csv-stringify/sync';
import type { ClientBase, CrewRow, LineRow, ReadingRow, SiteRow } from '../actions/clientBase.js';
import { harmlessCell } from './csvFormula.js';

/** The four files of a file set, as text. */
export interface ClientBaseCsv {
  sites: string;
  lines: string;
  readings: string;
  crews: string;
}

type Cell = string | number | null;
/** Column by column: its name in the file, and its cell from a row. */
type Layout<Row> = Record<string, (row: Row) => Cell>;

const yesNo = (value: boolean | null): Cell => (value === null ? null : value ? 'yes' : 'no');

const SITES: Layout<SiteRow> = {
  site_id: (site) => site.siteId,
  client: (site) => site.client,
  client_phone: (site) => site.clientPhone,
  client_email: (site) => site.clientEmail,
  address: (site) => site.address,
  town: (site) => site.town,
  area: (site) => site.area,
  postal_code: (site) => site.postalCode,
  latitude: (site) => site.latitude,
  longitude: (site) => site.longitude,
  access: (site) => site.access,
  access_notes: (site) => site.accessNotes,
  basement: (site) => site.basement,
  tap: (site) => site.tap,
  builder: (site) => site.builder,
  built_on: (site) => site.builtOn,
  last_cleaned: (site) => site.lastCleaned,
};

const LINES: Layout<LineRow> = {
  line_id: (line) => line.lineId,
  site_id: (line) => line.siteId,
  kind: (line) => line.kind,
  material: (line) => line.material,
  inside_diameter_mm: (line) => line.boreMm,
  length_m: (line) => line.lengthM,
  installed_on: (line) => line.installedOn,
  ferrous_iron_mg_l: (line) => line.ferrousIronMgL,
  threshold: (line) => line.threshold,
  outlet: (line) => line.outlet,
  drains_to: (line) => line.drainsTo,
  condition: (line) => line.condition,
  perforated: (line) => yesNo(line.perforated),
  wrapped: (line) => yesNo(line.wrapped),
  slope_pct: (line) => line.slopePct,
};

const READINGS: Layout<ReadingRow> = {
  line_id: (reading) => reading.lineId,
  observed_at: (reading) => reading.observedAt,
  phase: (reading) => reading.phase,
  method: (reading) => reading.method,
  occlusion: (reading) => reading.occlusion,
  plugged: (reading) => (reading.plugged ? 1 : 0),
  plug_cause: (reading) => reading.plugCause,
  crew_id: (reading) => reading.crewId,
  deposit: (reading) => reading.deposit,
  distance_m: (reading) => reading.distanceM,
  note: (reading) => reading.note,
};

const CREWS: Layout<CrewRow> = {
  crew_id: (crew) => crew.crewId,
  name: (crew) => crew.name,
  depot: (crew) => crew.depot,
  depot_latitude: (crew) => crew.depotLatitude,
  depot_longitude: (crew) => crew.depotLongitude,
  kit: (crew) => crew.kit.join(';'),
  shift_start: (crew) => crew.shiftStart,
  shift_end: (crew) => crew.shiftEnd,
  weekdays: (crew) => crew.weekdays.join(';'),
  people: (crew) => crew.people,
  break_after: (crew) => crew.breakAfter,
  break_minutes: (crew) => crew.breakMinutes,
};

/** Writes a client base in the very form that the import reads, so that reading it back gives the same base. */
export function clientBaseToCsv(base: ClientBase): ClientBaseCsv {
  return {
    sites: table(base.sites, SITES),
    lines: table(base.lines, LINES),
    readings: table(base.readings, READINGS),
    crews: table(base.crews, CREWS),
  };
}

const harmless = (cell: Cell): Cell => (typeof cell === 'string' ? harmlessCell(cell) : cell);

function table<Row>(rows: readonly Row[], layout: Layout<Row>): string {
  const cells = Object.values(layout);
  return stringify([Object.keys(layout), ...rows.map((row) => cells.map((cell) => harmless(cell(row))))]);
}
