/** Where an access point stands, as the books have it. */
export interface StandingPoint {
  kind: string;
  distanceM: number | null;
  distanceFrom: string | null;
}

/**
 * Metres from a line's upstream end; null: nobody knows. Outlets stand at its end; other distances are taken from
 * upstream, or from the outlet where that is named.
 */
export function placeAlong({ kind, distanceM, distanceFrom }: StandingPoint, lengthM: number): number | null {
  if (kind === 'outlet') return lengthM;
  if (distanceM === null) return null;
  const fromOutlet = /outlet/i.test(distanceFrom ?? '');
  return Math.max(0, Math.min(lengthM, fromOutlet ? lengthM - distanceM : distanceM));
}
