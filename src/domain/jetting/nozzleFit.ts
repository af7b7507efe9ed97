import type { Finding } from './finding.js';

/** Nozzle and rigid end over the bore, so that it cannot turn back. Common practice, no source. */
const LEAST_LENGTH_OVER_BORE = 1.5;
/** A nozzle wider than this share of the bore dams the water behind it. Common practice, no source. */
const MOST_WIDTH_OVER_BORE = 0.8;

/** What goes into a bore without turning back and without damming the water. */
export const nozzleFor = (boreMm: number): { leastLengthMm: number; mostWidthMm: number } => ({
  leastLengthMm: LEAST_LENGTH_OVER_BORE * boreMm,
  mostWidthMm: MOST_WIDTH_OVER_BORE * boreMm,
});

/** Why a nozzle must not go into a bore; empty when it may. */
export function nozzleFaults(
  nozzle: { diameterMm: number; rigidLengthMm: number },
  boreMm: number,
): Finding[] {
  const faults: Finding[] = [];
  const { leastLengthMm: leastMm, mostWidthMm: mostMm } = nozzleFor(boreMm);
  if (nozzle.rigidLengthMm < leastMm) {
    faults.push({
      code: 'nozzle-may-turn-back',
      facts: { rigidLengthMm: nozzle.rigidLengthMm, leastMm, boreMm },
      text: `nozzle and rigid end are ${round(nozzle.rigidLengthMm)} mm; in a bore of ${round(boreMm)} mm at least ${round(leastMm)} mm, or it turns back on the crew`,
    });
  }
  if (nozzle.diameterMm > mostMm) {
    faults.push({
      code: 'nozzle-too-wide',
      facts: { diameterMm: nozzle.diameterMm, mostMm, boreMm },
      text: `the nozzle is ${round(nozzle.diameterMm)} mm wide; at most ${round(mostMm)} mm in a bore of ${round(boreMm)} mm`,
    });
  }
  return faults;
}

const round = (mm: number): number => Math.round(mm);
