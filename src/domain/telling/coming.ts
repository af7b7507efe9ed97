/** What a crew said of its coming to a visit; instants in milliseconds. */
export interface SaidOfComing {
  kind: 'on_the_way' | 'running_late';
  saidMs: number;
  /** null: nobody knows. */
  expectedMs: number | null;
}

/** What is known when it is to be told. */
export interface ComingKnown {
  nowMs: number;
  /** The work has not begun, nor is it over. */
  isAhead: boolean;
  /** The crew began the visit after it had said so, as far as anything has come in. */
  begunSince: boolean;
  /** The crew has said something newer of the same visit. */
  saidSince: boolean;
}

/** A drive whose end nobody knows is over after so long (common practice, no source). */
const LONGEST_DRIVE_MS = 2 * 3_600_000;

/**
 * Whether nobody is to be told any more: the crew is there, has said something newer, or should be there by what it
 * said. A drive may take longer than thought; who said that it is late named a time to go by.
 *
 * @param toleranceMs So much later than expected a crew on its way may still be on its way.
 */
export function isStale(said: SaidOfComing, known: ComingKnown, toleranceMs: number): boolean {
  if (!known.isAhead || known.begunSince || known.saidSince) return true;
  if (said.kind === 'running_late') return said.expectedMs !== null && known.nowMs >= said.expectedMs;
  return known.nowMs > (said.expectedMs ?? said.saidMs + LONGEST_DRIVE_MS) + toleranceMs;
}
