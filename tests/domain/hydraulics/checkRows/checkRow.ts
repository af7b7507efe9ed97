/**
 * One published or independently computed value: its number in the list of check values, the value, how far off
 * ours may be (`abs:`, `rel:`) or on which side it must lie (`ge`, `le`, `gt`, `lt`), and what we compute.
 */
export type CheckRow = readonly [id: string, expected: number, tolerance: string, compute: () => number];

export interface CheckGroup {
  source: string;
  rows: readonly CheckRow[];
}

/** Whether a computed value keeps the row's tolerance. @throws {RangeError} For a tolerance not known. */
export function holds(computed: number, expected: number, tolerance: string): boolean {
  if (tolerance === 'ge') return computed >= expected - 1e-9;
  if (tolerance === 'le') return computed <= expected + 1e-9;
  if (tolerance === 'gt') return computed > expected;
  if (tolerance === 'lt') return computed < expected;
  const [kind, limit] = tolerance.split(':');
  const allowed = Number(limit) * (kind === 'rel' ? Math.abs(expected) : 1);
  if ((kind !== 'abs' && kind !== 'rel') || !(allowed >= 0))
    throw new RangeError(`unknown tolerance: ${tolerance}`);
  // A table's last digit is exact to no more than the float that holds it.
  return Math.abs(computed - expected) <= allowed + 1e-12;
}
