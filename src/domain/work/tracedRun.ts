/** Deepest a house drain is traced and dug (common practice, no source). */
const DEEPEST_M = 10;
/** Ends read off a tape and a length from the books differ by so much (common practice, no source). */
const TAPE_M = 0.1;

/** To what of the pipe a depth was measured: most locators read the middle of what they hear; a rod finds the crown. */
export const DEPTHS_OF = ['crown', 'centre', 'invert', 'trench_bottom'] as const;
export type DepthOf = (typeof DEPTHS_OF)[number];

export interface TracedRun {
  fromM: number | null;
  toM: number | null;
  depthM: number | null;
  /** Null: nobody said; the crown is taken, which digs deepest. */
  depthOf: DepthOf | null;
}

/**
 * What cannot be true of a run that a trace found, by field: `from`, `to` or `depth`.
 *
 * @param lengthM Length of the line, m; null: unknown.
 */
export function tracedFaults(
  { fromM, toM, depthM }: Omit<TracedRun, 'depthOf'>,
  lengthM: number | null,
): { field: 'from' | 'to' | 'depth'; detail: string; remedy: string }[] {
  const faults: ReturnType<typeof tracedFaults> = [];
  if (fromM !== null && toM !== null && toM <= fromM)
    faults.push({ field: 'to', detail: 'does not lie beyond from', remedy: 'both ends from upstream' });
  for (const [field, endM] of [['from', fromM] as const, ['to', toM] as const])
    if (lengthM !== null && endM !== null && endM > lengthM + TAPE_M)
      faults.push({
        field,
        detail: `lies beyond the end of the line, which is ${lengthM.toFixed(1)} m long`,
        remedy: `at most ${lengthM.toFixed(1)} m from upstream, or mend the length of the line first`,
      });
  if (depthM !== null && (depthM <= 0 || depthM > DEEPEST_M))
    faults.push({
      field: 'depth',
      detail: `${depthM.toFixed(1)} m is no depth of a house drain`,
      remedy: `more than 0 and at most ${DEEPEST_M} m (33 ft)`,
    });
  return faults;
}
