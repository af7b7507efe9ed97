import type { KitKind } from '../words.js';
import type { ClosedSeason } from './closedSeason.js';

/** What equips and upsets one crew's day. */
export interface CrewDayFacts {
  crewName: string;
  depotId: string;
  /** As many as the crew has when nobody is away. */
  people: number;
  /** On which no crew works; null: none. */
  holiday: { id: string; name: string } | null;
  away: readonly CrewAbsence[];
  /** Somebody of it was called out and rests into the shift: nobody starts before; null: nobody. */
  rest: CrewRest | null;
  /** The crew's own, and what any crew of its depot may fetch. */
  kit: readonly CarriedKit[];
  seasons: readonly (ClosedSeason & { id: string; reason: string })[];
}

export interface CrewRest {
  /** The call-outs. */
  recordIds: string[];
  untilAt: string;
  /** Who rests, to be phoned, and until when: "until 13:00: Tern (555 0170)". */
  text: string;
}

export interface CrewAbsence {
  id: string;
  /** Null: the crew, or so many of its people. */
  memberId: string | null;
  /** Null: one member, or the whole crew. */
  people: number | null;
  /** Within the day. */
  comesBack: boolean;
  reason: string;
}

export interface CarriedKit {
  id: string;
  name: string;
  kind: KitKind;
  /** Litres of water it holds; null: not on record. */
  tankL: number | null;
  /** Litres of sludge it holds; null: not on record. */
  wasteL: number | null;
  /** Carried by this crew; else kit of no crew. */
  isOwn: boolean;
  /** Why it is out of service that day; null: it is not. */
  outBecause: string | null;
  /** The absence that says so. */
  outId: string | null;
}

/** The crew's own in service, else what it may fetch. */
export function kitOf({ kit }: Pick<CrewDayFacts, 'kit'>, kind: KitKind): CarriedKit[] {
  const there = kit.filter((item) => item.kind === kind && item.outBecause === null);
  const own = there.filter(({ isOwn }) => isOwn);
  return own.length > 0 ? own : there.slice(0, 1);
}

/** Litres that what the crew carries holds in all; null: of none is it on record. */
export function tankOf({ kit }: Pick<CrewDayFacts, 'kit'>, tank: 'tankL' | 'wasteL'): number | null {
  const known = kit.flatMap((item) =>
    item.isOwn && item.outBecause === null && item[tank] !== null ? [item[tank]] : [],
  );
  return known.length === 0 ? null : Math.round(known.reduce((sum, litres) => sum + litres, 0));
}
