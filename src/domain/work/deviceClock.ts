/** A clock counts as right within so much: a slow upload looks the same (common practice, no source). */
const RIGHT_WITHIN_S = 120;
const MINUTE_S = 60;

/** How a device's clock stood against ours when it sent. */
export interface DeviceClock {
  /** Device's time less ours, in seconds; 0 where the clock counts as right. */
  offsetS: number;
  isRight: boolean;
}

/**
 * A device's clock by what it said when it sent. A wrong one is wrong by minutes, hours or days: its offset is taken
 * to the minute, so that the seconds an upload takes do not make two offsets of one clock.
 */
export function deviceClock(saidMs: number, oursMs: number): DeviceClock {
  const offsetS = Math.round((saidMs - oursMs) / 1000);
  const isRight = Math.abs(offsetS) <= RIGHT_WITHIN_S;
  return { offsetS: isRight ? 0 : Math.round(offsetS / MINUTE_S) * MINUTE_S, isRight };
}

/** The instant that a device meant, by our clock. */
export const byOurClock = (at: string, { offsetS }: DeviceClock): string =>
  new Date(Date.parse(at) - offsetS * 1000).toISOString();

/** What to do with a time that cannot be right, when the clock is right now. */
export const IF_CLOCK_WAS_WRONG =
  "If the device's clock was wrong when this was written down and has been set right since, send it again under its id with deviceClockOffsetSeconds: by how many seconds the clock was ahead then, negative where it was behind";

/** One sentence for the person who holds the device; null: the clock is right. */
export function clockInWords({ offsetS, isRight }: DeviceClock): string | null {
  if (isRight) return null;
  const minutes = Math.abs(offsetS) / MINUTE_S;
  const [days, hours] = [Math.floor(minutes / 1440), Math.floor((minutes % 1440) / 60)];
  const parts = [
    [days, 'day'],
    [hours, 'hour'],
    [minutes % 60, 'minute'],
  ] as const;
  const long = parts.flatMap(([n, unit]) => (n === 0 ? [] : [`${n} ${unit}${n === 1 ? '' : 's'}`])).join(' ');
  return `This device's clock is ${long} ${offsetS > 0 ? 'ahead' : 'behind'}. Times were set right by that; set the clock.`;
}
