import type { CameBack, FlowProven, Method, TaskKind } from '../words.js';
import { GOES_INTO_LINE } from './dangers.js';

/** Looks that show what something stopped at, some metres in; a look at the outlet does not. */
export const LOOKS_IN: readonly Method[] = ['camera'];

/** One thing tried on a line, as its crew left it. */
export interface Tried {
  task: TaskKind;
  /** When it happened, ms, whenever it was told. */
  atMs: number;
  flowProven: FlowProven | null;
  cameBack: CameBack | null;
  /** Share left, where somebody read it after the clean. */
  residue: number | null;
  /** Where the nozzle stopped; null: it went through. */
  nozzleStoppedM: number | null;
}

/** What went into a line, and who looked in; in any order. */
export interface LineHistory {
  lengthM: number | null;
  hardStops: readonly { atMs: number; atM: number | null }[];
  /** When somebody looked in by camera, ms. */
  camerasMs: readonly number[];
  tried: readonly Tried[];
}

/** Something in a line that may be a gas line, until a camera looked at it. */
export interface LineStop {
  kind: 'hard_stop' | 'nozzle_stopped';
  atMs: number;
  /** How far in; null: nobody said. */
  atM: number | null;
}

/** Work that a stop keeps out of its line until a camera looked in. Common practice, no source. */
const KEPT_OUT: Record<LineStop['kind'], readonly TaskKind[]> = {
  hard_stop: GOES_INTO_LINE,
  nozzle_stopped: ['cable'],
};

/** A nozzle that came this far went through. */
const THROUGH_SHARE = 0.97;

export const stoppedShort = (
  { nozzleStoppedM }: Pick<Tried, 'nozzleStoppedM'>,
  lengthM: number | null,
): boolean => nozzleStoppedM !== null && (lengthM === null || nozzleStoppedM < THROUGH_SHARE * lengthM);

/**
 * The newest stop in a line that no camera followed, a hard one before a nozzle that stopped short. A nozzle that
 * later went through with flow proven has passed where another stopped; a hard stop is cleared by a camera alone.
 *
 * @param untilMs What happened after it is left out.
 */
export function standingStop(line: LineHistory, untilMs = Number.POSITIVE_INFINITY): LineStop | null {
  const lookedAfter = (atMs: number) => line.camerasMs.some((ms) => ms > atMs && ms <= untilMs);
  const stands = ({ atMs }: { atMs: number }) => atMs <= untilMs && !lookedAfter(atMs);
  const hard = newest(line.hardStops.filter(stands));
  if (hard !== null) return { kind: 'hard_stop', ...hard };
  const passedAfter = (atMs: number) =>
    line.tried.some(
      (each) => each.atMs > atMs && each.atMs <= untilMs && THROUGH.includes(each.task) && wentThrough(each),
    );
  const nozzle = newest(
    line.tried.filter((each) => stoppedShort(each, line.lengthM) && stands(each) && !passedAfter(each.atMs)),
  );
  return nozzle === null ? null : { kind: 'nozzle_stopped', atMs: nozzle.atMs, atM: nozzle.nozzleStoppedM };
}

const THROUGH: readonly TaskKind[] = ['jet', 'cable'];
const wentThrough = ({ nozzleStoppedM, flowProven }: Tried): boolean =>
  nozzleStoppedM === null && flowProven === 'yes';

const newest = <T extends { atMs: number }>(events: readonly T[]): T | null =>
  events.reduce<T | null>((last, each) => (last !== null && last.atMs >= each.atMs ? last : each), null);

/** A task as far as it matters for what goes into a line first; in the order of the visit. */
export interface LookedTask {
  kind: TaskKind;
  lineId: string | null;
  plan: object;
}

/** The plan of a look that must be one by camera: its kit goes on the truck. */
export const BY_CAMERA = { method: 'camera' } as const;

/** Whether a task is a look into its line by camera. */
export const isCameraLook = ({ kind, plan }: LookedTask): boolean =>
  kind === 'survey' || (kind === 'inspect' && (plan as { method?: string }).method === BY_CAMERA.method);

export const keepsOut = (stop: LineStop, kind: TaskKind): boolean => KEPT_OUT[stop.kind].includes(kind);

/** Whether a visit puts something into a stopped line before a camera of its own looked into that line. */
export function goesInFirst(tasks: readonly LookedTask[], lineId: string, stop: LineStop): boolean {
  const own = tasks.filter((task) => task.lineId === lineId);
  const first = own.findIndex(({ kind }) => keepsOut(stop, kind));
  return first !== -1 && !own.slice(0, first).some(isCameraLook);
}

/** Where it stopped, in both units; empty where nobody said. */
export const stoppedWhere = (atM: number | null): string =>
  atM === null ? '' : ` at ${atM.toFixed(1)} m (${(atM / 0.3048).toFixed(0)} ft)`;
