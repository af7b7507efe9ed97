import type { Findings, Tally } from './walk.js';

/** Least share of an operation's requests that must be accepted. */
export const LEAST_ACCEPTED = 0.3;
/** Refusals of a service at its limits or without its database: reached apart. */
const NOT_BY_A_WALK = new Set(['429', '503']);

export const shareOf = ({ sent, accepted }: Tally): number => (sent === 0 ? 1 : accepted / sent);

/** Statuses an operation publishes as refusals and never gave. */
export function notReached({ operation, refused }: Tally): string[] {
  const given = new Set([...refused.keys()].map((code) => code.slice(0, 3)));
  return Object.keys(operation.responses).filter(
    (status) => Number(status) >= 400 && !NOT_BY_A_WALK.has(status) && !given.has(status),
  );
}

export function lineOf(tally: Tally): string {
  const refused = [...tally.refused]
    .sort(([a], [b]) => a.localeCompare(b))
    .map(([code, n]) => `${code} ${n}`);
  const missing = notReached(tally);
  return [
    tally.operation.id.padEnd(30),
    String(tally.sent).padStart(5),
    `${Math.round(shareOf(tally) * 100)} %`.padStart(6),
    `${Math.round(tally.ms / Math.max(1, tally.sent))} ms`.padStart(8),
    `  ${refused.join(', ')}`,
    missing.length > 0 ? `  never: ${missing.join(' ')}` : '',
  ].join('');
}

export function verdictOf({ tallies, broken, offSchema, touched }: Findings) {
  const all = [...tallies.values()];
  return {
    sent: all.reduce((sum, { sent }) => sum + sent, 0),
    accepted: all.reduce((sum, { accepted }) => sum + accepted, 0),
    broken: broken.length,
    offSchema: offSchema.length,
    touched: touched.length,
    tooFewAccepted: all
      .filter((tally) => shareOf(tally) < LEAST_ACCEPTED)
      .map(({ operation }) => operation.id),
    notReached: all.reduce((sum, tally) => sum + notReached(tally).length, 0),
  };
}
