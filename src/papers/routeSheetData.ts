import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { TaskKind } from '../domain/words.js';
import type { DayRoute, DayStop } from './routesDay.js';
import type { SystemSketch } from './systemSketchData.js';

/** One crew's day on paper, complete: what they need when nothing else works. */
export interface RouteSheetData {
  businessName: string;
  /** Whom to call at the office; null when none is set. */
  officePhone: string | null;
  day: IsoDate;
  /** Out of the shift, by whoever is on call. */
  onCall: boolean;
  units: UnitSystem;
  members: readonly string[];
  /** What must be on board, to tick off before leaving. */
  kit: readonly string[];
  /** What nobody checked, or cannot be done, before anything else. */
  warnings: readonly string[];
  /** What two or more stops share, once for the day. */
  cautions: readonly DayCaution[];
  route: Omit<DayRoute, 'stops'> & { stops: readonly SheetStop[] };
}

export interface SheetStop extends DayStop {
  /** Null for breaks, refills and disposals, and for what was tried and is driven to no more. */
  visit: SheetVisit | null;
  /** What to know of a place that is no visit (how to connect, what it takes). */
  note: string | null;
}

export interface SheetVisit {
  /** The work order's number, as people say it. */
  orderNumber: string;
  address: string;
  /** Why the crew comes, in a sentence. */
  because: string;
  /** What the client was promised, in seconds since midnight. */
  promised: { fromSeconds: number | null; toSeconds: number | null } | null;
  /** Why it can no longer be done as planned; empty: nothing keeps the crew. */
  hindrances: readonly string[];
  accessNotes: readonly string[];
  /** What crews and the office noted of the site, newest first. */
  notes: readonly SheetNote[];
  /** Of the systems worked on. */
  sketches: readonly SystemSketch[];
  contacts: readonly SheetContact[];
  /** In the order they are done. */
  tasks: readonly SheetTask[];
  /** Of the whole visit, as far as the day's do not say it; a task's own stand with the task. */
  cautions: readonly SheetCaution[];
  /** The locate ticket it digs on; null: nothing is dug, or no ticket was called. */
  ticket: SheetTicket | null;
  /** Where flushed water and sludge go. */
  waterPlan: string | null;
  /** The one missing fact to find out. */
  question: string | null;
  kit: readonly string[];
  waterLitres: number;
  wasteLitres: number;
}

export interface SheetTicket {
  number: string | null;
  /** When it may be dug, and until when. */
  digFrom: { day: IsoDate; seconds: number };
  lastDay: IsoDate | null;
  beginBy: IsoDate | null;
  /** How far each side of a mark is dug by hand. */
  byHand: string;
  /** Each utility with its answer. */
  utilities: readonly string[];
  /** What still keeps the crew from digging; null: nothing. */
  open: string | null;
}

export interface SheetNote {
  text: string;
  day: IsoDate;
  author: string;
}

export interface SheetContact {
  name: string;
  /** "occupant", "keyholder": as the client base says. */
  role: string;
  phone: string | null;
  /** Spoken language where it is not the business's own. */
  language: string | null;
}

export interface SheetTask {
  kind: TaskKind;
  /** The line, pit or pump it is done on. */
  target: string;
  minutes: number;
  /** Pressure, nozzle, passes, entry point …: one line each, in the units of the sheet. */
  plan: readonly string[];
  cautions: readonly SheetCaution[];
}

export interface SheetCaution {
  text: string;
  /** Where the caution comes from; null for common practice. */
  source: string | null;
}

export interface DayCaution extends SheetCaution {
  /** A word or two, by which a stop refers to it. */
  name: string;
  /** Numbers of the stops it is for. */
  stops: readonly number[];
}
