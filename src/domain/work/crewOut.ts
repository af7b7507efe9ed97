/** A crew's day as far as it tells whether the crew is still out. Seconds since the day's midnight, or any one clock. */
export interface CrewOut {
  now: number;
  /** When its shift ends. */
  shiftEnd: number;
  /** When its route brings it back; null: it has none. */
  returnsAt: number | null;
  /** It has left its depot. */
  hasLeft: boolean;
  /** Visits under way or still ahead. */
  visitsLeft: number;
}

/**
 * Until when a crew is out: the end of its shift, or where it is still on the road after that, when its route brings
 * it back. Who left and has visits before it does not go home by the clock. Common practice, no source.
 */
export function outUntil({ now, shiftEnd, returnsAt, hasLeft, visitsLeft }: CrewOut): number {
  if (!hasLeft || returnsAt === null) return shiftEnd;
  if (visitsLeft > 0) return Math.max(shiftEnd, returnsAt, now);
  return returnsAt > now ? Math.max(shiftEnd, returnsAt) : shiftEnd;
}
