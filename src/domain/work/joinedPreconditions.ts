import type { PRECONDITION_STATES, PreconditionKind } from '../words.js';

type PreconditionState = (typeof PRECONDITION_STATES)[number];

/** What becomes of a precondition of the order that goes, where the order that stays has one of the same kind. */
export type Joined =
  /** It goes over and stands beside the other: each was given for its own work. */
  | 'beside'
  /** It stays behind: the other says the same. */
  | 'left'
  /** It stays behind, and the other is open again: one thing must be settled for both. */
  | 'reopens';

/** Of these a visit has one only: one ticket in force, one plan of where the water goes. */
const ONE_A_VISIT: readonly PreconditionKind[] = ['locate_ticket', 'discharge_plan'];

/**
 * Two orders of one house become one visit: what either waits for, the visit waits for. A yes, a quote or parts were
 * given for the work of one order and cover no other (common practice, no source).
 *
 * @param same Of what a visit has one only: whether both were met by the same.
 */
export function joinedPrecondition(
  kind: PreconditionKind,
  gone: PreconditionState,
  stays: PreconditionState,
  same: boolean,
): Joined {
  if (!ONE_A_VISIT.includes(kind)) return gone === 'open' && stays === 'open' ? 'left' : 'beside';
  return stays === 'open' || (gone !== 'open' && same) ? 'left' : 'reopens';
}
