import type { CameBack, FlowProven, PlugCause, TaskKind } from '../words.js';

/**
 * The rungs before the excavator, from the gentlest. `clear_outlet` and `cable` are one rung: open from the other
 * end, cable, clear or cut back the outlet.
 */
const RUNGS = ['inspect', 'hose_flush', 'jet', 'cable', 'trace', 'dig_and_replace'] as const;
export type Rung = (typeof RUNGS)[number];

const RUNG_OF: Partial<Record<TaskKind, Rung>> = {
  inspect: 'inspect',
  survey: 'inspect',
  hose_flush: 'hose_flush',
  jet: 'jet',
  cable: 'cable',
  clear_outlet: 'cable',
  replace_outlet: 'cable',
  trace: 'trace',
  dig_and_replace: 'dig_and_replace',
};

/** One clean of one line, as its crew left it; newest first in lists. */
export interface CleanTried {
  task: TaskKind;
  flowProven: FlowProven | null;
  cameBack: CameBack | null;
  /** Share left, where somebody read it after the clean. */
  residue: number | null;
  /** Where the nozzle stopped; null: it went through. */
  nozzleStoppedM: number | null;
}

export interface LadderLine {
  lengthM: number | null;
  /** Plugged now: by what; null: it runs. */
  plugged: PlugCause | null;
  slotsBlocked: boolean;
  /** Somebody looked in by camera since the last clean. */
  lookedSince: boolean;
  /** Something stopped hard in it and no camera looked in since; null: nothing did. */
  hardStop: { atM: number | null } | null;
  /** What was tried since it last ran well, newest first. */
  tried: readonly CleanTried[];
}

export interface NextRung {
  task: TaskKind;
  code: string;
  text: string;
}

/** Left after a clean that is called poor: the same residue that asks for a recheck (common practice, no source). */
const POOR_RESIDUE = 0.2;
/** Poor cleans in a row that raise the next rung. Common practice, no source. */
const POOR_IN_A_ROW = 2;
/** A nozzle that came this far went through. */
const THROUGH_SHARE = 0.97;

/** A clean that did not do: flow not proven, much left, or still thick when it ended. */
export const wasPoor = ({ flowProven, residue, cameBack }: CleanTried): boolean =>
  flowProven === 'no' || (residue !== null && residue > POOR_RESIDUE) || cameBack === 'thick';

export const stoppedShort = ({ nozzleStoppedM }: CleanTried, lengthM: number | null): boolean =>
  nozzleStoppedM !== null && (lengthM === null || nozzleStoppedM < THROUGH_SHARE * lengthM);

/** What each cause of a plug that is not fouling asks for. Common practice, no source. */
const BY_CAUSE: Record<Exclude<PlugCause, 'deposit' | 'unknown'>, { task: TaskKind; text: string }> = {
  ice: { task: 'clear_outlet', text: 'frozen: thaw and clear the outlet, look again when it runs' },
  roots: { task: 'cable', text: 'roots: cut with the cable, then look with the camera' },
  crushed: { task: 'trace', text: 'crushed: no clean opens it; find the place' },
  debris: { task: 'cable', text: 'debris: open from the other end' },
  buried_outlet: { task: 'clear_outlet', text: 'the outlet is buried: find it and dig it free by hand' },
  animal: { task: 'clear_outlet', text: 'an animal: clear the outlet and put a guard on it' },
};

/**
 * The rung a line needs next; null: what was done is enough.
 *
 * Where a nozzle or cable stopped short a camera looks first: what stopped it may be a gas line.
 *
 * Two poor cleans in a row, or a jet that stopped short, raise the next rung. Nobody digs before something was
 * tried: a plug by deposit is jetted first, then opened from the other end, then traced, then dug.
 */
export function nextRung(line: LadderLine): NextRung | null {
  const [last, before] = line.tried;
  if (line.hardStop !== null)
    return {
      task: 'inspect',
      code: 'hard_stop',
      text: `stopped hard${line.hardStop.atM === null ? '' : ` at ${line.hardStop.atM} m`}: a cross-bored gas line is possible. No cutter; look in by camera first`,
    };
  if (last !== undefined && !line.lookedSince && stoppedShort(last, line.lengthM))
    return {
      task: 'inspect',
      code: 'nozzle_stopped',
      text: `stopped at ${last.nozzleStoppedM} m: a cross-bored gas line is possible. No cutter; look in by camera first`,
    };
  if (line.plugged !== null && line.plugged !== 'deposit' && line.plugged !== 'unknown') {
    const { task, text } = BY_CAUSE[line.plugged];
    if (last === undefined || RUNG_OF[last.task] !== RUNG_OF[task])
      return { task, code: `plugged_by_${line.plugged}`, text };
    return above(last.task, 'plugged', `still plugged after ${words(last.task)}`);
  }
  if (line.plugged !== null) {
    if (last === undefined)
      return { task: 'jet', code: 'plugged', text: 'plugged by deposit: jet before anything else' };
    return above(last.task, 'plugged', `still plugged after ${words(last.task)}`);
  }
  if (last === undefined) return null;
  if (line.slotsBlocked && wasPoor(last))
    return {
      task: 'trace',
      code: 'slots_blocked',
      text: 'the bore is open and the slots are dead: jetting does not cure that; propose replacement',
    };
  if (stoppedShort(last, line.lengthM))
    return above(last.task, 'nozzle_stopped', `the nozzle stopped at ${last.nozzleStoppedM} m`);
  if (wasPoor(last) && before !== undefined && wasPoor(before))
    return above(highest(last.task, before.task), 'two_poor_cleans', `${POOR_IN_A_ROW} poor cleans in a row`);
  return null;
}

const words = (task: TaskKind): string => task.replaceAll('_', ' ');
const heightOf = (task: TaskKind): number => RUNGS.indexOf(RUNG_OF[task] ?? 'inspect');
const highest = (a: TaskKind, b: TaskKind): TaskKind => (heightOf(a) >= heightOf(b) ? a : b);

function above(task: TaskKind, code: string, why: string): NextRung | null {
  const rung = RUNGS[heightOf(task) + 1];
  return rung === undefined ? null : { task: rung, code, text: `${why}: next ${words(rung)}` };
}

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
