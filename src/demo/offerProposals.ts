import { v7 as newId } from 'uuid';
import type { House, Stores } from '../actions/house.js';
import { type ProposalIdea, proposalIdeas } from '../actions/proposals/ideas.js';
import { answerProposal, draftProposal, offerProposal } from '../actions/proposals/proposals.js';
import type { ProposalKind } from '../domain/words.js';

/** What became of the first ideas of each kind, in turn. */
const STORIES: {
  kind: ProposalKind;
  priceMinor: number;
  because: string | null;
  end: 'drafted' | 'offered' | 'accepted' | 'declined';
}[] = [
  { kind: 'smooth_pipe', priceMinor: 684_000, end: 'offered', because: null },
  {
    kind: 'smooth_pipe',
    priceMinor: 512_000,
    end: 'declined',
    because: 'Not before the garden is done anew.',
  },
  { kind: 'smooth_pipe', priceMinor: 598_000, end: 'accepted', because: null },
  { kind: 'smooth_pipe', priceMinor: 455_000, end: 'drafted', because: null },
  { kind: 'alarm', priceMinor: 24_500, end: 'accepted', because: null },
  { kind: 'alarm', priceMinor: 24_500, end: 'declined', because: 'Somebody is always at home.' },
  { kind: 'alarm', priceMinor: 24_500, end: 'offered', because: null },
  { kind: 'second_pump', priceMinor: 89_000, end: 'offered', because: null },
];

/** Proposals of what the records speak for after the night, told to their clients today; a yes makes its order. */
export async function offerProposals(house: House): Promise<void> {
  const today = house.zone.dayOf(house.clock.now());
  await house.transact({ name: 'demo' }, async (stores) => {
    const ideas = await proposalIdeas({ ...house, stores }, { filter: {}, today });
    const told = new Set<string>();
    for (const { kind, priceMinor, end, because } of STORIES) {
      const idea = ideas.find((each) => each.kind === kind && !told.has(each.siteId));
      if (!idea) continue;
      told.add(idea.siteId);
      const id = newId();
      await draftProposal(house, stores, { id, ...subjectOf(idea), kind, priceMinor, note: null });
      if (end === 'drafted') continue;
      await offerProposal(house, stores, id, 'the office', null);
      if (end === 'offered') continue;
      const answeredBy = await clientOf(stores, idea.siteId);
      await answerProposal(house, stores, id, { answer: end, answeredBy, answeredOn: null, because });
    }
  });
}

const subjectOf = ({ siteId, lineId, pitId }: ProposalIdea) => ({ siteId, lineId, pitId });

async function clientOf(stores: Stores, siteId: string): Promise<string> {
  const [owner] = await stores.rows.all('site_client', [{ column: 'site_id', is: '=', value: siteId }]);
  const client = owner && (await stores.rows.get('client', String(owner['client_id'])));
  return client ? String(client['name']) : 'the client';
}
