import { z } from 'zod';
import { dayNumber } from '../../domain/calendar/isoDate.js';
import {
  ACCESS,
  BASEMENTS,
  CONDITIONS,
  DEPOSITS,
  KIT_KINDS,
  LINE_KINDS,
  MATERIALS,
  METHODS,
  OUTLETS,
  PHASES,
  PLUG_CAUSES,
  WEEKDAYS,
  YES_NO_UNKNOWN,
} from '../../domain/words.js';
import type { Column, Columns } from './bookTable.js';

type Kind = Pick<Column, 'cell' | 'remedy'>;

const text = (max: number): Kind => ({
  cell: z.string().max(max, `longer than ${max} characters`),
  remedy: `at most ${max} characters`,
});
const word = (words: readonly [string, ...string[]]): Kind => ({
  cell: z.enum(words, 'is not one of the known words'),
  remedy: `one of ${words.join(', ')}`,
});
const number = (min: number, max: number, unit: string): Kind => ({
  cell: z
    .string()
    .regex(/^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$/, 'is not a number')
    .transform(Number)
    .pipe(z.number().min(min, `is below ${min}`).max(max, `is above ${max}`)),
  remedy: `a number from ${min} to ${max}${unit}, with a point for decimals`,
});
const day: Kind = {
  cell: z.string().refine((s) => {
    try {
      return dayNumber(s) > -200_000;
    } catch {
      return false;
    }
  }, 'is not a calendar day'),
  remedy: 'a day as YYYY-MM-DD',
};
const instant: Kind = {
  cell: z.iso
    .datetime({ offset: true, error: 'is not an instant' })
    .or(z.iso.date('is not an instant').transform((s) => `${s}T12:00:00Z`))
    .transform((s) => new Date(s).toISOString()),
  remedy: 'an instant as 2026-09-30T08:15:00Z (a bare day counts as its noon)',
};
const time: Kind = {
  cell: z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'is not a time of day'),
  remedy: 'a time as 07:30',
};
const yesNo: Kind = {
  cell: z
    .enum(['yes', 'no', '1', '0', 'true', 'false'], 'is neither yes nor no')
    .transform((s) => ['yes', '1', 'true'].includes(s)),
  remedy: 'yes or no',
};
const words = (list: readonly [string, ...string[]]): Kind => ({
  cell: z
    .string()
    .transform((s) =>
      s
        .split(';')
        .map((part) => part.trim())
        .filter(Boolean),
    )
    .pipe(z.array(z.enum(list, 'holds a word that is not known'))),
  remedy: `words of ${list.join(', ')}, with ; between them`,
});

const need = (header: string, kind: Kind): Column => ({
  header,
  needed: true,
  filled: true,
  empty: null,
  ...kind,
});
const may = (header: string, kind: Kind, empty: unknown = null): Column => ({ header, empty, ...kind });
/** The column is there in a full file set, its cells may be empty. */
const known = (header: string, kind: Kind, empty: unknown = null): Column => ({
  header,
  needed: true,
  empty,
  ...kind,
});

export const SITE_COLUMNS: Columns = {
  siteId: may('site_id', text(120)),
  client: need('client', text(200)),
  address: need('address', text(300)),
  town: may('town', text(120), 'unknown'),
  latitude: may('latitude', number(-90, 90, ' (degrees north)')),
  longitude: may('longitude', number(-180, 180, ' (degrees east)')),
  access: may('access', word(ACCESS), 'anytime'),
  area: may('area', text(120)),
  basement: may('basement', word(BASEMENTS), 'unknown'),
  clientPhone: may('client_phone', text(40)),
  clientEmail: may('client_email', text(200)),
  builder: may('builder', text(200)),
  builtOn: may('built_on', day),
  accessNotes: may('access_notes', text(2000)),
  tap: may('tap', word(YES_NO_UNKNOWN), 'unknown'),
  postalCode: may('postal_code', text(20)),
  lastCleaned: may('last_cleaned', day),
};

export const LINE_COLUMNS: Columns = {
  lineId: need('line_id', text(120)),
  siteId: need('site_id', text(120)),
  kind: need('kind', word(LINE_KINDS)),
  material: known('material', word(MATERIALS), 'unknown'),
  boreMm: known('inside_diameter_mm', number(10, 2000, ' mm')),
  lengthM: known('length_m', number(0.1, 2000, ' m')),
  installedOn: known('installed_on', day),
  ferrousIronMgL: known('ferrous_iron_mg_l', number(0, 1000, ' mg/L')),
  threshold: known('threshold', number(0.05, 0.95, ' (share of the bore)')),
  outlet: may('outlet', word(OUTLETS), 'unknown'),
  drainsTo: may('drains_to', text(120)),
  condition: may('condition', word(CONDITIONS), 'unknown'),
  perforated: may('perforated', yesNo),
  wrapped: may('wrapped', yesNo),
  slopePct: may('slope_pct', number(0, 100, ' %')),
};

export const READING_COLUMNS: Columns = {
  lineId: need('line_id', text(120)),
  observedAt: need('observed_at', instant),
  phase: need('phase', word(PHASES)),
  method: known('method', word(METHODS)),
  occlusion: known('occlusion', number(0, 1, ', the share of the bore that is blocked')),
  plugged: known('plugged', yesNo, false),
  plugCause: may('plug_cause', word(PLUG_CAUSES)),
  crewId: may('crew_id', text(120)),
  deposit: may('deposit', word(DEPOSITS), 'unknown'),
  note: may('note', text(4000)),
  distanceM: may('distance_m', number(0, 2000, ' m')),
};

export const CREW_COLUMNS: Columns = {
  crewId: need('crew_id', text(120)),
  name: need('name', text(120)),
  depot: need('depot', text(120)),
  depotLatitude: need('depot_latitude', number(-90, 90, ' (degrees north)')),
  depotLongitude: need('depot_longitude', number(-180, 180, ' (degrees east)')),
  kit: need('kit', words(KIT_KINDS)),
  shiftStart: need('shift_start', time),
  shiftEnd: need('shift_end', time),
  weekdays: need('weekdays', words(WEEKDAYS)),
  people: may('people', number(1, 12, ' people'), 2),
};
