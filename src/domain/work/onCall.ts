import { joined, type Span, uncovered } from '../calendar/spans.js';
import type { Urgency } from '../words.js';

/** A person's turn to be called; 1 is called first. Instants in milliseconds of the epoch. */
export interface OnCallTurn extends Span {
  memberId: string;
  turn: number;
}

export interface CrewShift extends Span {
  crewId: string;
}

/** Times out of all shifts in which nobody is on call. */
export function onCallGaps(whole: Span, turns: readonly OnCallTurn[], shifts: readonly Span[]): Span[] {
  return uncovered(whole, joined([...turns, ...shifts]));
}

export type TakenBy =
  /** Goes into the routes of the coming days. */
  | { kind: 'routes' }
  /** A crew at work now: its route is changed. */
  | { kind: 'crew_on_shift'; crewIds: string[] }
  /** The next shift still comes in time. */
  | { kind: 'next_shift'; crewIds: string[]; from: number }
  | { kind: 'on_call'; memberIds: string[] }
  /** Nobody: who is on call next, if anybody. */
  | { kind: 'nobody'; next: OnCallTurn | null };

/** A crew this near the end of its shift takes nothing new; a shift this near the limit comes too late. Common practice, no source. */
const LAST_START_MS = 45 * 60_000;

/**
 * Who takes a call: a crew at work, the next shift where that is early enough, else who is on call and not out
 * already, in turn.
 *
 * @param out Persons who are out on another call.
 */
export function whoTakes(ask: {
  now: number;
  respondBy: number;
  urgency: Urgency;
  shifts: readonly CrewShift[];
  turns: readonly OnCallTurn[];
  out: ReadonlySet<string>;
}): TakenBy {
  const { now, respondBy, urgency, shifts, turns, out } = ask;
  if (urgency === 'in_days') return { kind: 'routes' };
  const atWork = shifts.filter(({ from, to }) => from <= now && to - LAST_START_MS > now);
  if (atWork.length > 0) return { kind: 'crew_on_shift', crewIds: atWork.map(({ crewId }) => crewId) };
  const coming = shifts
    .filter(({ from }) => from > now && from + LAST_START_MS <= respondBy)
    .sort((a, b) => a.from - b.from);
  const [first] = coming;
  if (first)
    return {
      kind: 'next_shift',
      from: first.from,
      crewIds: coming.filter(({ from }) => from === first.from).map(({ crewId }) => crewId),
    };
  const onCall = turns
    .filter(({ memberId, from, to }) => from <= now && to > now && !out.has(memberId))
    .sort((a, b) => a.turn - b.turn || a.from - b.from);
  if (onCall.length > 0) return { kind: 'on_call', memberIds: onCall.map(({ memberId }) => memberId) };
  const next = turns.filter(({ from }) => from > now).sort((a, b) => a.from - b.from)[0] ?? null;
  return { kind: 'nobody', next };
}

export interface CallOut {
  memberId: string;
  calledAt: number;
  /** Null: still out. */
  backAt: number | null;
}

/**
 * When a person may begin a shift after being called out before it; null: nothing keeps them. Who is still out
 * rests from now on at the earliest.
 */
export function restedAt(
  callOuts: readonly CallOut[],
  memberId: string,
  shiftStart: number,
  now: number,
  restHours: number,
): number | null {
  const ends = callOuts
    .filter((each) => each.memberId === memberId && each.calledAt < shiftStart)
    .map(({ calledAt, backAt }) => (backAt ?? Math.max(calledAt, now)) + restHours * 3_600_000)
    .filter((at) => at > shiftStart);
  return ends.length === 0 ? null : Math.max(...ends);
}

/** What is written down late, before or after: an order stays its person's so long around a call-out. */
const AROUND_MS = 24 * 3_600_000;
/** A call-out nobody ended is taken to be over after so long. Common practice, no source. */
const LONGEST_MS = 48 * 3_600_000;

/** Whether an order somebody was called out to is theirs to work on at an instant. */
export function isCalledOut({ calledAt, backAt }: Pick<CallOut, 'calledAt' | 'backAt'>, at: number): boolean {
  return at >= calledAt - AROUND_MS && at <= (backAt ?? calledAt + LONGEST_MS) + AROUND_MS;
}

/** What is left of a shift after work out of hours. Instants and lengths in milliseconds. */
export interface ShiftAfterNight {
  /** Between coming home and the shift's usual start; below zero: it has begun by then. */
  restMs: number;
  /** When it can be begun with the rest that is wanted; null: not before it ends. */
  startsAt: number | null;
}

/** The next shift of somebody who comes home at `backAt`, with the rest that the owner wants. */
export function shiftAfterNight(backAt: number, shift: Span, restHours: number): ShiftAfterNight {
  const rested = Math.max(shift.from, backAt + restHours * 3_600_000);
  return { restMs: shift.from - backAt, startsAt: rested >= shift.to ? null : rested };
}
