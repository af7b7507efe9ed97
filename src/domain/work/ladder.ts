import type { PlugCause, TaskKind } from '../words.js';
import { cleans } from './cleaningTasks.js';
import { type LineHistory, standingStop, stoppedShort, stoppedWhere, type Tried } from './lineStops.js';

/**
 * The rungs before the excavator, from the gentlest. `clear_outlet` and `cable` are one rung: open from the other
 * end, cable, clear or cut back the outlet; a new outlet opens the ground as a dig does.
 */
const RUNGS = ['hose_flush', 'jet', 'cable', 'trace', 'dig_and_replace'] as const;
type Rung = (typeof RUNGS)[number];

const RUNG_OF: Partial<Record<TaskKind, Rung>> = {
  hose_flush: 'hose_flush',
  jet: 'jet',
  cable: 'cable',
  clear_outlet: 'cable',
  replace_outlet: 'dig_and_replace',
  trace: 'trace',
  dig_and_replace: 'dig_and_replace',
};

export interface LadderLine extends LineHistory {
  /** Plugged now: by what, and since when, ms; null: it runs. */
  plugged: { cause: PlugCause; sinceMs: number } | null;
  slotsBlocked: boolean;
  /** A dig of it is ordered or begun: its parts follow one another. */
  digOrdered: boolean;
}

export interface NextRung {
  /** Null: nothing is left that a crew can do unasked; a person decides. */
  task: TaskKind | null;
  code: string;
  text: string;
}

/** Left after a clean that is called poor: the same residue that asks for a recheck (common practice, no source). */
const POOR_RESIDUE = 0.2;
/** Poor cleans in a row that raise the next rung. Common practice, no source. */
const POOR_IN_A_ROW = 2;
/** A crew may write down the clean before the plug it was for. */
const SAME_VISIT_MS = 2 * 3_600_000;

/** A clean that did not do: flow not proven, much left, or still thick when it ended. */
export const wasPoor = ({ flowProven, residue, cameBack }: Omit<Tried, 'task' | 'atMs'>): boolean =>
  flowProven === 'no' || (residue !== null && residue > POOR_RESIDUE) || cameBack === 'thick';

/** What is tried on a plug of each cause, each once, in this order. Common practice, no source. */
const STEPS: Record<PlugCause, readonly TaskKind[]> = {
  deposit: ['jet', 'cable', 'trace', 'dig_and_replace'],
  unknown: ['jet', 'cable', 'trace', 'dig_and_replace'],
  roots: ['cable', 'trace', 'dig_and_replace'],
  debris: ['cable', 'trace', 'dig_and_replace'],
  animal: ['clear_outlet', 'trace', 'dig_and_replace'],
  buried_outlet: ['clear_outlet', 'trace', 'replace_outlet'],
  crushed: ['trace', 'dig_and_replace'],
  ice: ['clear_outlet'],
};
/** On a line that runs: nobody digs it for poor cleans. */
const RUNNING: readonly TaskKind[] = ['hose_flush', 'jet', 'cable', 'trace'];
/** The bore is open and its slots are dead. */
const DEAD_SLOTS: readonly TaskKind[] = ['trace', 'dig_and_replace'];

const FIRST: Record<PlugCause, string> = {
  deposit: 'plugged by deposit: jet before anything else',
  unknown: 'plugged, nobody knows by what: jet before anything else',
  ice: 'frozen: thaw and clear the outlet, look again when it runs',
  roots: 'roots: cut with the cable, then look with the camera',
  crushed: 'crushed: no clean opens it; find the place',
  debris: 'debris: open from the other end',
  buried_outlet: 'the outlet is buried: find it and dig it free by hand',
  animal: 'an animal: clear the outlet and put a guard on it',
};

/**
 * The rung a line needs next; null: what was done is enough, or a dig is on its way.
 *
 * Where something stopped short a camera looks first: what stopped it may be a gas line. On a plug each step is taken
 * once and none below one that was tried, whatever came between; on a line that runs, two poor cleans in a row or a
 * nozzle that stopped short raise the next rung, up to finding the place. After the last step a person decides.
 */
export function nextRung(line: LadderLine): NextRung | null {
  const stop = standingStop(line);
  if (stop !== null)
    return {
      task: 'inspect',
      code: stop.kind,
      text: `stopped ${stop.kind === 'hard_stop' ? 'hard' : 'short'}${stoppedWhere(stop.atM)}: a cross-bored gas line is possible. No cutter; look in by camera first`,
    };
  if (line.digOrdered) return null;
  const tried = [...line.tried].sort((a, b) => a.atMs - b.atMs);
  return line.plugged === null ? ofRunning(line, tried) : ofPlugged(line.plugged, tried);
}

function ofPlugged({ cause, sinceMs }: NonNullable<LadderLine['plugged']>, all: readonly Tried[]): NextRung {
  const tried = all.filter(({ atMs }) => atMs >= sinceMs - SAME_VISIT_MS);
  const steps = STEPS[cause];
  const task = nextStep(steps, tried);
  if (task === steps[0])
    return { task, code: isFouling(cause) ? 'plugged' : `plugged_by_${cause}`, text: FIRST[cause] };
  if (task !== null)
    return { task, code: 'plugged', text: `still plugged after ${triedWords(tried)}: next ${words(task)}` };
  return cause === 'ice'
    ? {
        task,
        code: 'still_frozen',
        text: 'still frozen after the outlet was cleared: keep the water pumped round it, wait for the thaw, look again',
      }
    : { task, code: 'ladder_ends', text: `still plugged after ${triedWords(tried)}: a person decides` };
}

function ofRunning(line: LadderLine, all: readonly Tried[]): NextRung | null {
  const cleaned = all.filter(({ task }) => cleans(task));
  const didDo = (each: Tried) => !wasPoor(each) && !stoppedShort(each, line.lengthM);
  const fails = cleaned.slice(cleaned.findLastIndex(didDo) + 1);
  const [first, last] = [fails[0], fails.at(-1)];
  if (first === undefined || last === undefined) return null;
  const tried = all.filter(({ atMs }) => atMs >= first.atMs);
  if (line.slotsBlocked && wasPoor(last))
    return step(
      DEAD_SLOTS,
      tried,
      'slots_blocked',
      'the bore is open and the slots are dead: jetting does not cure that; propose replacement',
    );
  if (stoppedShort(last, line.lengthM))
    return step(RUNNING, tried, 'nozzle_stopped', `the nozzle stopped${stoppedWhere(last.nozzleStoppedM)}`);
  if (fails.length < POOR_IN_A_ROW) return null;
  return step(RUNNING, tried, 'two_poor_cleans', `${fails.length} poor cleans in a row`);
}

function step(steps: readonly TaskKind[], tried: readonly Tried[], code: string, why: string): NextRung {
  const task = nextStep(steps, tried);
  return task === null
    ? { task, code: 'ladder_ends', text: `${why}, after ${triedWords(tried)}: a person decides` }
    : { task, code, text: `${why}: next ${words(task)}` };
}

/**
 * The first step that nothing tried has covered. A clean covers what is gentler than it; finding the place covers
 * itself alone, for a clean below it may not have been tried; a dig covers all.
 */
const nextStep = (steps: readonly TaskKind[], tried: readonly Tried[]): TaskKind | null =>
  steps.find((task) => !tried.some((each) => covers(each.task, task))) ?? null;

function covers(tried: TaskKind, task: TaskKind): boolean {
  const [by, rung] = [RUNG_OF[tried], RUNG_OF[task]];
  if (by === undefined || rung === undefined) return false;
  if (by === 'trace' || rung === 'trace') return by === rung || by === 'dig_and_replace';
  return RUNGS.indexOf(by) >= RUNGS.indexOf(rung);
}

const isFouling = (cause: PlugCause): boolean => cause === 'deposit' || cause === 'unknown';
const words = (task: TaskKind): string => task.replaceAll('_', ' ');
const triedWords = (tried: readonly Tried[]): string =>
  [...new Set(tried.map(({ task }) => words(task)))].join(', ');

/** Where a nozzle can get in, and how far it must go. */
export interface Entry {
  accessPointId: string;
  /** Metres from the line's upstream end; null is unknown. */
  atM: number | null;
  direction: 'upstream' | 'downstream' | 'both';
}

export interface EntryPlan {
  entries: { accessPointId: string; runM: number }[];
  /** Metres of the line nothing reaches; a cleanout there would. */
  missingM: number;
  cleanoutAtM: number | null;
}

/**
 * Entry points that together reach the whole line, fewest first; where they do not, the place of a new cleanout.
 *
 * @param reachM How far the hose goes from an entry.
 */
export function entryPlan(lengthM: number, reachM: number, entries: readonly Entry[]): EntryPlan {
  const runs = entries.flatMap(({ accessPointId, atM, direction }) => {
    if (atM === null) return [];
    const from = direction === 'downstream' ? atM : Math.max(0, atM - reachM);
    const to = direction === 'upstream' ? atM : Math.min(lengthM, atM + reachM);
    return [{ accessPointId, from, to }];
  });
  const used: EntryPlan['entries'] = [];
  const gaps: { from: number; to: number }[] = [];
  let reached = 0;
  while (reached < lengthM) {
    const next = runs
      .filter(({ from, to }) => from <= reached + 1e-9 && to > reached + 1e-9)
      .sort((a, b) => b.to - a.to)[0];
    if (next !== undefined) {
      used.push({ accessPointId: next.accessPointId, runM: next.to - next.from });
      reached = next.to;
      continue;
    }
    const beyond = runs.filter(({ from }) => from > reached).map(({ from }) => from);
    const gap = { from: reached, to: Math.min(lengthM, ...beyond) };
    gaps.push(gap);
    reached = gap.to;
  }
  const [first] = gaps;
  return {
    entries: used,
    missingM: gaps.reduce((sum, { from, to }) => sum + to - from, 0),
    cleanoutAtM: first === undefined ? null : Math.min(first.to, first.from + reachM),
  };
}
