import type { Deposit } from '../words.js';

/** How a deposit gives way to a jet. */
interface Yield {
  /** Occlusion one pass clears. */
  firstPass: number;
  /** Occlusion each further pass clears. */
  furtherPass: number;
  /** Speed of the nozzle in and out. */
  inMps: number;
  outMps: number;
}

/**
 * Common practice, no source: gel hoses out, crust takes about twice the passes at half the speed; in at about
 * 30 ft a minute and out at 15 on gel, out slower than in so that the jets carry the deposit along.
 */
const YIELDS: Record<Deposit, Yield> = {
  none: { firstPass: 1, furtherPass: 1, inMps: 0.1524, outMps: 0.1524 },
  gel: { firstPass: 0.2, furtherPass: 0.17, inMps: 0.1524, outMps: 0.0762 },
  granular: { firstPass: 0.15, furtherPass: 0.12, inMps: 0.1524, outMps: 0.0762 },
  unknown: { firstPass: 0.2, furtherPass: 0.17, inMps: 0.1524, outMps: 0.0762 },
  crust: { firstPass: 0.1, furtherPass: 0.08, inMps: 0.0762, outMps: 0.0381 },
  roots: { firstPass: 0.1, furtherPass: 0.1, inMps: 0.0762, outMps: 0.0381 },
};

/** Past it a jet alone is not expected to do: the next rung of the ladder. */
export const MOST_PASSES = 10;

/** Passes in and out to clear a line, at least one. */
export function passesFor(occlusion: number, deposit: Deposit): number {
  if (!(occlusion >= 0 && occlusion <= 1)) throw new RangeError(`occlusion outside 0 to 1: ${occlusion}`);
  const { firstPass, furtherPass } = YIELDS[deposit];
  return 1 + Math.max(0, Math.ceil((occlusion - firstPass) / furtherPass - 1e-9));
}

/** The occlusion that takes so many passes: what a crew's count says backwards. */
export function occlusionOfPasses(passes: number, deposit: Deposit): number {
  const { firstPass, furtherPass } = YIELDS[deposit === 'none' ? 'unknown' : deposit];
  return Math.min(1, firstPass + furtherPass * (passes - 1));
}

/** Speeds of one pass; feed in faster than pull out (VND, Dutch drainage contractors, drain jetters). */
export const passSpeeds = (deposit: Deposit): { inMps: number; outMps: number } => {
  const { inMps, outMps } = YIELDS[deposit];
  return { inMps, outMps };
};

/** Minutes the jet runs in one pass in and out. */
export const passMinutes = (lengthM: number, inMps: number, outMps: number): number =>
  (lengthM / inMps + lengthM / outMps) / 60;

/** Water of one pass in and out, litres. */
export const passWaterL = (lengthM: number, inMps: number, outMps: number, flowLps: number): number =>
  passMinutes(lengthM, inMps, outMps) * 60 * flowLps;
