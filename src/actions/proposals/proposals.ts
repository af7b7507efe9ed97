import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { ProposalKind, ProposalState } from '../../domain/words.js';
import { statesBefore } from '../../domain/work/proposalLife.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { proposalIdeas } from './ideas.js';
import { orderProposed } from './proposedWork.js';

export interface NewProposal {
  id: string;
  siteId: string;
  kind: ProposalKind;
  /** Of cleanouts and smooth pipes. */
  lineId: string | null;
  /** Of alarms and second pumps. */
  pitId: string | null;
  priceMinor: number | null;
  note: string | null;
}

const OF_LINES: ReadonlySet<ProposalKind> = new Set(['cleanout', 'smooth_pipe']);

/**
 * Drafts a proposal with what the records speak for today; without such evidence it stands on somebody's judgement.
 *
 * @throws {Refused} `rule-broken` when the line or pit does not fit the kind or the site.
 */
export async function draftProposal(house: House, stores: Stores, asked: NewProposal): Promise<Row> {
  const today = house.zone.dayOf(house.clock.now());
  await refuseOddSubject(stores, asked);
  const ideas = await proposalIdeas({ ...house, stores }, { filter: { siteId: asked.siteId }, today });
  const idea = ideas.find(
    ({ kind, lineId, pitId }) =>
      kind === asked.kind && (asked.lineId === null ? pitId === asked.pitId : lineId === asked.lineId),
  );
  return stores.rows.insert('proposal', {
    id: asked.id,
    site_id: asked.siteId,
    line_id: asked.lineId,
    pit_id: asked.pitId,
    kind: asked.kind,
    evidence: JSON.stringify(idea?.reasons ?? []),
    visits_saved_per_year: idea?.visitsSavedPerYear ?? null,
    price_minor: asked.priceMinor,
    note: asked.note,
  });
}

async function refuseOddSubject(stores: Stores, { kind, lineId, pitId, siteId }: NewProposal): Promise<void> {
  const [wanted, other] = OF_LINES.has(kind)
    ? (['lineId', 'pitId'] as const)
    : (['pitId', 'lineId'] as const);
  const ids = { lineId, pitId };
  if (ids[wanted] === null || ids[other] !== null)
    throw ruleBroken(
      'proposal-subject',
      `#/${ids[other] === null ? wanted : other}`,
      `does not fit a ${kind}`,
      `${wanted} alone`,
    );
  const row = await stores.rows.get(wanted === 'lineId' ? 'line' : 'pit', ids[wanted]);
  if (!row || row['site_id'] !== siteId)
    throw ruleBroken('proposal-subject', `#/${wanted}`, 'is not on the site', 'one of the site');
}

/** Offered to the client, by whom and when. */
export const offerProposal = (house: House, stores: Stores, id: string, by: string, on: IsoDate | null) =>
  changeState(house, stores, id, 'offered', '#/offeredOn', on, (day) => ({
    offered_on: day,
    offered_by: by,
  }));

export interface ProposalAnswer {
  answer: 'accepted' | 'declined';
  answeredBy: string;
  answeredOn: IsoDate | null;
  because: string | null;
}

/** What the client said. A yes makes the order in the same transaction, a no stays on the client's papers. */
export async function answerProposal(
  house: House,
  stores: Stores,
  id: string,
  said: ProposalAnswer,
): Promise<Row> {
  const answered = await changeState(
    house,
    stores,
    id,
    said.answer,
    '#/answeredOn',
    said.answeredOn,
    (day) => ({
      answered_on: day,
      answered_by: said.answeredBy,
      answer_because: said.because,
    }),
  );
  if (said.answer === 'declined') return answered;
  const order = await orderProposed(house, stores, answered);
  return (await stores.rows.update('proposal', id, { work_order_id: order['id'] })) ?? answered;
}

export const withdrawProposal = (house: House, stores: Stores, id: string, because: string) =>
  changeState(house, stores, id, 'withdrawn', '#', null, () => ({ answer_because: because }));

async function changeState(
  house: House,
  stores: Stores,
  id: string,
  to: ProposalState,
  pointer: string,
  on: IsoDate | null,
  change: (day: IsoDate) => Row,
): Promise<Row> {
  const row = await stores.rows.lock('proposal', id);
  if (!row) throw new Refused({ code: 'not-found', resource: 'proposal', id });
  const allowed = statesBefore(to);
  const state = row['state'] as ProposalState;
  if (!allowed.includes(state))
    throw new Refused({
      code: 'wrong-state',
      resource: 'proposal',
      id,
      state,
      allowed,
      detail: `The proposal is ${state}; only one that is ${allowed.join(' or ')} can be ${to}.`,
    });
  const today = house.zone.dayOf(house.clock.now());
  const day = on ?? today;
  const offered = row['offered_on'] === null ? day : String(row['offered_on']);
  if (day > today || day < offered)
    throw ruleBroken(
      'proposal-day',
      pointer,
      `${day} is no day it could happen on`,
      `a day from ${offered} to ${today}`,
    );
  return (await stores.rows.update('proposal', id, { state: to, ...change(day) })) ?? row;
}
