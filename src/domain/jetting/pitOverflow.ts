import type { Finding } from './finding.js';

export interface PitWhileJetting {
  /** Room from the water now to the rim or the floor, whichever floods first. */
  freeVolumeL: number;
  jetLps: number;
  inflowLps: number;
  /** A second pump or a vacuum that keeps running while the pit's own pump is locked out. */
  takenOutLps: number;
  minutesNeeded: number;
}

export interface PitOverflow {
  /** Minutes until the pit runs over; null when it does not. */
  minutes: number | null;
  enough: boolean;
  /** What a second pump or vacuum must take out so that the work can be finished. */
  takeOutLps: number;
  needed: Finding | null;
}

/** Jetting toward the house fills the pit while its pump is locked out: free volume over (jet + inflow − taken out). */
export function pitOverflow(pit: PitWhileJetting): PitOverflow {
  const incomingLps = pit.jetLps + pit.inflowLps;
  const risingLps = incomingLps - pit.takenOutLps;
  const minutes = risingLps > 0 ? pit.freeVolumeL / risingLps / 60 : null;
  const enough = minutes === null || minutes >= pit.minutesNeeded;
  const takeOutLps = Math.max(0, incomingLps - pit.freeVolumeL / (pit.minutesNeeded * 60));
  if (enough) return { minutes, enough, takeOutLps, needed: null };
  return {
    minutes,
    enough,
    takeOutLps,
    needed: {
      code: 'second-pump-needed',
      facts: { minutes, minutesNeeded: pit.minutesNeeded, takeOutLps },
      text: `the pit runs over after ${minutes.toFixed(1)} min of ${pit.minutesNeeded.toFixed(1)} min: a second pump or vacuum for ${takeOutLps.toFixed(2)} L/s, and a person inside`,
    },
  };
}
