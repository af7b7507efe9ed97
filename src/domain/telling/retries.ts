/**
 * Waits before the next try, in seconds, after the first, second … failed one: from five seconds to a day, three days in
 * all. The schedule that Standard Webhooks recommends ("Deliverability and reliability"), a day for its last step.
 */
const WAITS = [5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400] as const;
const LONGEST = 86_400;
/** So much of a wait is left to chance, so that what failed together does not come back together. */
const JITTER = 0.2;

/**
 * Seconds until the next try; null when there is none left.
 *
 * @param tries        Made so far, from 1.
 * @param chance       Uniform in [0, 1).
 * @param askedSeconds What the other side asked for (Retry-After); it wins where it is longer, up to a day.
 */
export function nextTrySeconds(
  tries: number,
  chance: number,
  askedSeconds: number | null = null,
): number | null {
  const wait = WAITS[tries - 1];
  if (wait === undefined) return null;
  const spread = wait * (1 - JITTER + 2 * JITTER * chance);
  return Math.min(LONGEST, Math.max(spread, askedSeconds ?? 0));
}

/** Mail is worth less the later it comes: a minute to four hours, half a day in all (common practice, no source). */
const MAIL_WAITS = [60, 300, 900, 3_600, 7_200, 14_400] as const;

export const nextMailTrySeconds = (tries: number, chance: number): number | null => {
  const wait = MAIL_WAITS[tries - 1];
  return wait === undefined ? null : wait * (1 - JITTER + 2 * JITTER * chance);
};

/** An endpoint that failed for so long without one success is switched off (common practice, no source). */
export const DISABLED_AFTER_DAYS = 5;

/** Retry-After as seconds or as a date (RFC 9110, 10.2.3), in seconds from now; null where it says nothing. */
export function retryAfterSeconds(header: string | undefined, nowMs: number): number | null {
  if (header === undefined) return null;
  const text = header.trim();
  if (/^\d{1,9}$/.test(text)) return Number(text);
  const at = Date.parse(text);
  return Number.isNaN(at) ? null : Math.max(0, (at - nowMs) / 1000);
}
