import type { Findings, Tally } from './tally.js';

/** Least share of an operation's requests that must be accepted. */
export const LEAST_ACCEPTED = 0.3;
/** Refusals of a service at its limits or without its database: reached apart. */
const NOT_BY_A_WALK = new Set(['429', '503']);

export const shareOf = ({ sent, accepted }: Tally): number => (sent === 0 ? 1 : accepted / sent);

/** Statuses an operation publishes as refusals and never gave. */
export function notReached({ published, refused }: Tally): string[] {
  const given = new Set(Object.keys(refused).map((code) => code.slice(0, 3)));
  return published.filter((status) => !NOT_BY_A_WALK.has(status) && !given.has(status));
}

const each = (ms: number, sent: number): string => `${Math.round(ms / Math.max(1, sent))} ms`;

export function lineOf(id: string, tally: Tally): string {
  const refused = Object.entries(tally.refused)
    .sort(([a], [b]) => a.localeCompare(b))
    .map(([code, n]) => `${code} ${n}`);
  const missing = notReached(tally);
  return [
    id.padEnd(30),
    String(tally.sent).padStart(5),
    `${Math.round(shareOf(tally) * 100)} %`.padStart(6),
    each(tally.ms, tally.sent).padStart(8),
    each(tally.laidMs, tally.sent).padStart(8),
    `  ${refused.join(', ')}`,
    missing.length > 0 ? `  never: ${missing.join(' ')}` : '',
  ].join('');
}

export function verdictOf({ tallies, broken, offSchema, touched }: Findings) {
  const all = Object.values(tallies);
  const sum = (of: (tally: Tally) => number) => all.reduce((total, tally) => total + of(tally), 0);
  return {
    operations: all.length,
    sent: sum(({ sent }) => sent),
    accepted: sum(({ accepted }) => accepted),
    fewestOfAnOperation: Math.min(...all.map(({ sent }) => sent)),
    broken: broken.length,
    offSchema: offSchema.length,
    touched: touched.length,
    tooFewAccepted: Object.entries(tallies)
      .filter(([, tally]) => shareOf(tally) < LEAST_ACCEPTED)
      .map(([id, tally]) => `${id} ${Math.round(shareOf(tally) * 100)} % of ${tally.sent}`),
    refusalsPublished: sum(
      ({ published }) => published.filter((status) => !NOT_BY_A_WALK.has(status)).length,
    ),
    notReached: Object.entries(tallies)
      .filter(([, tally]) => notReached(tally).length > 0)
      .map(([id, tally]) => `${id} ${notReached(tally).join(' ')}`),
  };
}

/** Writes the table and the findings out. @returns Whether all is as it should be. */
export function tell(findings: Findings, isWhyAsked: boolean): boolean {
  console.log('operation                      sent accepted  each    ground  refused');
  for (const [id, tally] of Object.entries(findings.tallies)) console.log(lineOf(id, tally));
  if (isWhyAsked)
    for (const [id, told] of Object.entries(findings.unexpected))
      if (shareOf(findings.tallies[id] as Tally) < 0.45) console.log(`\n${id}\n  ${told.join('\n  ')}`);
  for (const what of ['broken', 'offSchema', 'touched', 'groundless'] as const)
    if (findings[what].length > 0) console.log(`\n${what}\n  ${findings[what].slice(0, 40).join('\n  ')}`);
  const verdict = verdictOf(findings);
  console.log(`\n${JSON.stringify(verdict, null, 1)}`);
  return (
    verdict.broken + verdict.offSchema + verdict.touched === 0 &&
    verdict.tooFewAccepted.length + verdict.notReached.length === 0
  );
}
