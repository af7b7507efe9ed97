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

/** What a rain day drops: digs, and flushing, jetting and clearing outside (common practice, no source). */
export const RAIN_TASKS: readonly TaskKind[] = [
  'hose_flush',
  'jet',
  'clear_outlet',
  'replace_outlet',
  'dig_and_replace',
  'add_cleanout',
  'restore',
];

/** The same in words, as the schema has it. */
export const RAIN_WORDS = `${RAIN_TASKS.map((kind) => kind.replaceAll('_', ' ')).join(', ')}, each outside the house only (not on a floor drain or a pit), digs and their restoration wherever they are`;

/** A floor drain and the pit are inside the house; every other line is worked on from outside. */
const isOutside = ({ kind, lineKind }: SeasonTask): boolean =>
  kind === 'dig_and_replace' || kind === 'restore' || (lineKind !== null && lineKind !== 'floor_drain');

/**
 * Whether the season forbids a visit with these tasks on the day, from the depot. One of a single day outside is
 * weather: what is not on its list and belongs there stays, but nothing else outside moves into it.
 *
 * @param belongsThere It stands on a route of that day already, or somebody called for it.
 */
export function closes(
  season: ClosedSeason,
  tasks: readonly SeasonTask[],
  day: IsoDate,
  depotId: string,
  belongsThere: boolean,
): boolean {
  if (season.depotId !== null && season.depotId !== depotId) return false;
  if (day < season.fromDay || day > season.toDay) return false;
  const isWeather = season.outsideOnly && season.fromDay === season.toDay;
  if (isWeather && !belongsThere && tasks.some(isOutside)) return true;
  return tasks.some((task) => season.tasks.includes(task.kind) && (!season.outsideOnly || isOutside(task)));
}
