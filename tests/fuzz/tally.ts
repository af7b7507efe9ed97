import type { Operation } from './document.js';

/** What became of an operation's requests. */
export interface Tally {
  sent: number;
  accepted: number;
  /** Milliseconds spent on its answers. */
  ms: number;
  /** Milliseconds spent on what its requests stand on. */
  laidMs: number;
  /** Refusals that it publishes, as statuses. */
  published: string[];
  /** Refusals given, as `409 clash`, and how often. */
  refused: Record<string, number>;
}

/** What a walk found, or the sum of several. */
export interface Findings {
  /** By operation, in the order of the document. */
  tallies: Record<string, Tally>;
  /** Answers of the 500s but 503. */
  broken: string[];
  /** Answers that are not as the document publishes. */
  offSchema: string[];
  /** Refused requests that left something behind. */
  touched: string[];
  /** Ground that could not be laid. */
  groundless: string[];
  /** First refusals of requests meant to be accepted, by operation: for whoever writes recipes. */
  unexpected: Record<string, string[]>;
}

export const noFindings = (): Findings => ({
  tallies: {},
  broken: [],
  offSchema: [],
  touched: [],
  groundless: [],
  unexpected: {},
});

export const newTally = ({ responses }: Operation): Tally => ({
  sent: 0,
  accepted: 0,
  ms: 0,
  laidMs: 0,
  published: Object.keys(responses).filter((status) => Number(status) >= 400),
  refused: {},
});

const KEPT_OF_EACH = 6;

/** The findings of several walks as one. */
export function addedUp(all: readonly Findings[]): Findings {
  const sum = noFindings();
  for (const { tallies, unexpected, ...lists } of all) {
    for (const [id, tally] of Object.entries(tallies)) sum.tallies[id] = plus(sum.tallies[id], tally);
    for (const what of ['broken', 'offSchema', 'touched', 'groundless'] as const)
      sum[what].push(...lists[what]);
    for (const [id, told] of Object.entries(unexpected))
      sum.unexpected[id] = [...(sum.unexpected[id] ?? []), ...told].slice(0, KEPT_OF_EACH);
  }
  return sum;
}

function plus(one: Tally | undefined, other: Tally): Tally {
  if (!one) return structuredClone(other);
  const refused = { ...one.refused };
  for (const [code, n] of Object.entries(other.refused)) refused[code] = (refused[code] ?? 0) + n;
  return {
    sent: one.sent + other.sent,
    accepted: one.accepted + other.accepted,
    ms: one.ms + other.ms,
    laidMs: one.laidMs + other.laidMs,
    published: other.published,
    refused,
  };
}
