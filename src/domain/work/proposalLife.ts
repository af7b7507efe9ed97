import type { ProposalState } from '../words.js';

/** What may follow what: drafted, offered to the client, answered for good; the business may take it back before that. */
const NEXT: Readonly<Record<ProposalState, readonly ProposalState[]>> = {
  drafted: ['offered', 'withdrawn'],
  offered: ['accepted', 'declined', 'withdrawn'],
  accepted: [],
  declined: [],
  withdrawn: [],
};

/** States from which a proposal may come into `to`. */
export const statesBefore = (to: ProposalState): ProposalState[] =>
  (Object.keys(NEXT) as ProposalState[]).filter((from) => NEXT[from].includes(to));
