import type { IsoDate } from '../calendar/isoDate.js';
import type { LineKind, TaskKind } from '../words.js';

/** Winter or rain: kinds of task that are not done from a depot (null: any) between two days, both included. */
export interface ClosedSeason {
  depotId: string | null;
  tasks: readonly TaskKind[];
  /** Spares work inside the house. */
  outsideOnly: boolean;
  fromDay: IsoDate;
  toDay: IsoDate;
}

export interface SeasonTask {
  kind: TaskKind;
  /** Null: a pit. */
  lineKind: LineKind | null;
}

/** What a rain day drops: digs, and jetting and clearing outside (common practice, no source). */
export const RAIN_TASKS: readonly TaskKind[] = [
  'jet',
  'clear_outlet',
  'replace_outlet',
  'dig_and_replace',
  'add_cleanout',
  'restore',
];

/** A floor drain and the pit are inside the house; every other line is worked on from outside. */
const isOutside = ({ kind, lineKind }: SeasonTask): boolean =>
  kind === 'dig_and_replace' || kind === 'restore' || (lineKind !== null && lineKind !== 'floor_drain');

/** Whether the season forbids a visit with these tasks on the day, from the depot. */
export function closes(
  season: ClosedSeason,
  tasks: readonly SeasonTask[],
  day: IsoDate,
  depotId: string,
): boolean {
  if (season.depotId !== null && season.depotId !== depotId) return false;
  if (day < season.fromDay || day > season.toDay) return false;
  return tasks.some((task) => season.tasks.includes(task.kind) && (!season.outsideOnly || isOutside(task)));
}
