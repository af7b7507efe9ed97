import type { KitKind, TaskKind, WorkOrderCause } from '../words.js';

/** An order's kit, and what it is for. */
export interface AskedKit {
  kit: readonly KitKind[];
  cause: WorkOrderCause;
  tasks: readonly { kind: TaskKind }[];
}

/**
 * What a visit takes along where it is at hand, and goes without: a second pump to a wet house. Who can be there first
 * goes; a task that sets a pump must have it. Common practice, no source.
 */
export const takesAlong = ({ kit, cause, tasks }: AskedKit): KitKind[] =>
  cause === 'call' && !tasks.some(({ kind }) => kind === 'temporary_pump')
    ? kit.filter((kind) => kind === 'pump')
    : [];

/** What a crew must have, or it cannot go. */
export function mustCarry(asked: AskedKit): KitKind[] {
  const along = takesAlong(asked);
  return asked.kit.filter((kind) => !along.includes(kind));
}
