import type { House } from './house.js';

/** A device's clock may be off by so much before its time is refused (common practice, no source). */
export const CLOCK_OFF_MS = 5 * 60_000;

/** Whether an instant that a device says lies further ahead than its clock may run. */
export const liesAhead = ({ clock }: Pick<House, 'clock'>, at: string): boolean =>
  Date.parse(at) > clock.now().getTime() + CLOCK_OFF_MS;
