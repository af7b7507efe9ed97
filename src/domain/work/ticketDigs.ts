import type { TaskKind } from '../words.js';
import { opensGround } from './preconditionRules.js';

/** A place where the ground is opened: what is done, on which line or pit. */
export interface Dig {
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
}

/** The digs among some tasks, each place once: what a locate ticket is called for. */
export function digsOf(tasks: readonly Dig[]): Dig[] {
  const digs: Dig[] = [];
  for (const { kind, lineId, pitId } of tasks)
    if (opensGround([kind]) && !digs.some((dig) => isSame(dig, { kind, lineId, pitId })))
      digs.push({ kind, lineId, pitId });
  return digs;
}

/** Digs that a ticket was not called for: nobody was asked what lies there. Common practice, no source. */
export const digsNotOn = (ticket: readonly Dig[], tasks: readonly Dig[]): Dig[] =>
  digsOf(tasks).filter((dig) => !ticket.some((each) => isSame(each, dig)));

const isSame = (a: Dig, b: Dig): boolean => a.kind === b.kind && a.lineId === b.lineId && a.pitId === b.pitId;
