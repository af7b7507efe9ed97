import type { ProposalKind, ProposalState } from '../../domain/words.js';
import type { House } from '../house.js';
import type { LinesAsked } from './lineFilter.js';

/** Proposals on the lines asked for and their pits, by kind and state. */
export async function proposalCounts({ stores }: House, asked: LinesAsked) {
  const items = (await stores.reports.proposalCounts(asked)).map((row) => ({
    kind: row['kind'] as ProposalKind,
    state: row['state'] as ProposalState,
    count: Number(row['count']),
    visitsSavedPerYear: Number(row['visits_saved']),
    priceMinor: Number(row['price_minor']),
  }));
  return { lines: await stores.reports.count(asked), items };
}
