import type { IsoDate } from '../domain/calendar/isoDate.js';
import type {
  Access,
  Basement,
  Condition,
  Deposit,
  KitKind,
  LineKind,
  Material,
  Method,
  Outlet,
  Phase,
  PlugCause,
  Weekday,
} from '../domain/words.js';

export interface SiteRow {
  siteId: string;
  client: string;
  address: string;
  town: string;
  latitude: number | null;
  longitude: number | null;
  access: Access;
  area: string;
  basement: Basement;
  clientPhone: string | null;
  clientEmail: string | null;
  builder: string | null;
  builtOn: IsoDate | null;
  accessNotes: string | null;
  tap: 'yes' | 'no' | 'unknown';
  postalCode: string | null;
  lastCleaned: IsoDate | null;
}

export interface LineRow {
  lineId: string;
  siteId: string;
  kind: LineKind;
  material: Material;
  boreMm: number | null;
  lengthM: number | null;
  installedOn: IsoDate | null;
  ferrousIronMgL: number | null;
  threshold: number | null;
  outlet: Outlet;
  /** A line's id, `pit`, `outlet`, or null: inferred. */
  drainsTo: string | null;
  condition: Condition;
  perforated: boolean | null;
  wrapped: boolean | null;
  slopePct: number | null;
}

export interface ReadingRow {
  lineId: string;
  /** RFC 3339 UTC. */
  observedAt: string;
  phase: Phase;
  method: Method | null;
  occlusion: number | null;
  plugged: boolean;
  plugCause: PlugCause | null;
  crewId: string | null;
  deposit: Deposit;
  note: string | null;
  distanceM: number | null;
}

export interface CrewRow {
  crewId: string;
  name: string;
  depot: string;
  depotLatitude: number;
  depotLongitude: number;
  kit: KitKind[];
  shiftStart: string;
  shiftEnd: string;
  weekdays: Weekday[];
  people: number;
  /** Local time of day after which the break is taken; null: when it fits. */
  breakAfter: string | null;
  breakMinutes: number;
}

/** A whole file set, parsed and consistent in itself. */
export interface ClientBase {
  sites: SiteRow[];
  lines: LineRow[];
  readings: ReadingRow[];
  crews: CrewRow[];
}
