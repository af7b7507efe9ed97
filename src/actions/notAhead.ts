import type { House } from './house.js';

/** A device's clock may run ahead by so much before its time is refused as the future (common practice, no source). */
const CLOCK_AHEAD_MS = 5 * 60_000;

/** Whether an instant that a device says lies further ahead than its clock may run. */
export const liesAhead = ({ clock }: Pick<House, 'clock'>, at: string): boolean =>
  Date.parse(at) > clock.now().getTime() + CLOCK_AHEAD_MS;
