/** What a full pipe carries, and how fast. */
export interface FullFlow {
  flowLps: number;
  speedMps: number;
}

/**
 * Flow of a round pipe running full under its own fall: v = (D/4)^(2/3) √S / n, SI.
 *
 * @param slope Fall over length.
 * @param n     Manning's roughness.
 * @throws {RangeError} When one of the three is not above zero.
 */
export function fullFlow(boreMm: number, slope: number, n: number): FullFlow {
  if (!(boreMm > 0 && slope > 0 && n > 0)) {
    throw new RangeError(`bore, slope and roughness are above zero: ${boreMm} mm, ${slope}, ${n}`);
  }
  const boreM = boreMm / 1000;
  const speedMps = ((boreM / 4) ** (2 / 3) * Math.sqrt(slope)) / n;
  return { flowLps: boreAreaM2(boreMm) * speedMps * 1000, speedMps };
}

export const boreAreaM2 = (boreMm: number): number => (Math.PI * (boreMm / 1000) ** 2) / 4;
