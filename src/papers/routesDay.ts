import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { isolated } from './printed.js';

/** One day's routes of all crews, as they are planned. Seconds count from the day's midnight. */
export interface RoutesDay {
  day: IsoDate;
  units: UnitSystem;
  /** The time it is, on a day under way. */
  nowSeconds?: number;
  routes: readonly DayRoute[];
}

/** Where a stop of a day under way is: the crew has been there, is there, or comes yet. */
export type StopProgress = 'over' | 'under_way' | 'ahead';

export interface DayRoute {
  crewName: string;
  /** Driven out of the shift, by who is on call; absent: no. */
  onCall?: boolean;
  start: Depot;
  end: Depot;
  shiftStartSeconds: number;
  shiftEndSeconds: number;
  leaveSeconds: number;
  endSeconds: number;
  travelMetres: number;
  /** From the last stop to the end depot. */
  returnTravelSeconds: number;
  stops: readonly DayStop[];
}

export interface Depot {
  name: string;
  at: Position;
}

/** Degrees, WGS 84. */
export interface Position {
  latitude: number;
  longitude: number;
}

export interface DayStop {
  kind: 'visit' | 'refill' | 'disposal' | 'break';
  /** The site; empty for a break. */
  siteName: string;
  /** Null for a break, and for a site nobody has put on the map yet. */
  at: Position | null;
  /** Travel from the place before. */
  travelSeconds: number;
  arrivalSeconds: number;
  /** Work (or rest) starts here; between arrival and start the crew waits. */
  startSeconds: number;
  endSeconds: number;
  /** Absent: ahead. */
  progress?: StopProgress;
}

/** Stops as people number them along a route: every place it goes to, breaks left out. */
export function numbered<S extends DayStop>(stops: readonly S[]): { stop: S; number: number | null }[] {
  let last = 0;
  return stops.map((stop) => {
    if (stop.kind === 'break') return { stop, number: null };
    last += 1;
    return { stop, number: last };
  });
}

/** A crew by its name, and that it is out of its shift. */
export const crewWords = ({ crewName, onCall }: Pick<DayRoute, 'crewName' | 'onCall'>): string =>
  `${isolated(crewName)}${onCall ? ', on call' : ''}`;

/** Crews that go out: one on its shift and on call is one. */
export const crewCount = ({ routes }: RoutesDay): number =>
  new Set(routes.map(({ crewName }) => crewName)).size;

/** A, B, … Z, AA: what tells crews apart where colour and dash do not. */
export function crewLetter(index: number): string {
  const letter = String.fromCharCode(65 + (index % 26));
  return index < 26 ? letter : crewLetter(Math.floor(index / 26) - 1) + letter;
}

/** Whether somebody goes there and nobody has put it on the map. */
export const isOffMap = ({ kind, at }: DayStop): boolean => kind !== 'break' && at === null;

/** Whether any of the stops has been begun. */
export const isRunning = ({ routes }: RoutesDay): boolean =>
  routes.some(({ stops }) => stops.some(({ progress = 'ahead' }) => progress !== 'ahead'));
