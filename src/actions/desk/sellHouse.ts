import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { AHEAD } from '../openOrder.js';
import type { Actor, Condition, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { withdrawProposal } from '../proposals/proposals.js';
import { revokeFeed } from '../telling/feeds.js';
import { takeOffRoute } from './publishing.js';

export interface SaleAsk {
  soldOn: IsoDate;
  /** Whose it is now: a client that is there, a new one, or nobody known yet. */
  buyer: { clientId: string } | { name: string; phone: string | null; email: string | null } | null;
  /** Contacts that stay, a tenant or a neighbour with the key; the others are archived. */
  keepContactIds: readonly string[];
}

export interface Sale {
  siteId: string;
  soldOn: IsoDate;
  sellerId: string | null;
  buyerId: string | null;
  endedTermIds: string[];
  endedDecisionIds: string[];
  archivedContactIds: string[];
  /** Calendar addresses of the site that the seller may have: they answer no more. */
  endedFeedIds: string[];
  /** Proposals the seller was offered and did not answer. */
  withdrawnProposalIds: string[];
  /** Days told to the seller for work that had not begun: nobody keeps them. */
  endedPromises: Row[];
  /** Orders nobody has begun: the buyer decides; each waits for that consent, and is on no route. */
  toDecide: Row[];
  /** What the books know from the seller and only the buyer can say. */
  toAsk: { code: string; facts: Record<string, unknown>; text: string }[];
}

/**
 * The house is another's from a day on. History stays; what the seller agreed to ends: care terms, decisions, consent to
 * early visits, promises, proposals not answered, calendar addresses. Open orders leave their routes and wait for the
 * buyer's word.
 *
 * @throws {Refused} `not-found`; `rule-broken` for a day to come, one before the seller's, or a buyer not there.
 */
export async function sellHouse(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  siteId: string,
  ask: SaleAsk,
): Promise<Sale> {
  const site = await stores.rows.lock('site', siteId);
  if (!site) throw new Refused({ code: 'not-found', resource: 'site', id: siteId });
  const today = house.zone.dayOf(house.clock.now());
  if (ask.soldOn > today)
    throw ruleBroken('sale', '#/soldOn', `${ask.soldOn} is still to come`, `a day up to ${today}`);
  const sellerId = await endOwnership(stores, siteId, ask.soldOn);
  const buyerId = await beginOwnership(stores, siteId, sellerId, ask);
  const gone = await archiveContacts(stores, siteId, today, ask.keepContactIds);
  if (site['early_visits_ok'] === true) await stores.rows.update('site', siteId, { early_visits_ok: false });
  const toDecide = await ordersAhead(stores, siteId);
  return {
    siteId,
    soldOn: ask.soldOn,
    sellerId,
    buyerId,
    endedTermIds: await endTerms(stores, siteId, ask.soldOn),
    endedDecisionIds: await endDecisions(stores, siteId, ask.soldOn),
    archivedContactIds: gone.map((contact) => String(contact['id'])),
    endedFeedIds: await endFeeds(house, stores, siteId),
    withdrawnProposalIds: await withdrawOffers(house, stores, siteId),
    endedPromises: await endPromises(house, stores, toDecide),
    toDecide: await askBuyer(stores, actor, toDecide, ask.soldOn),
    toAsk: askedOfBuyer(site, gone),
  };
}

const onSite = (siteId: string): Condition => ({ column: 'site_id', is: '=', value: siteId });

async function endTerms(stores: Stores, siteId: string, soldOn: IsoDate): Promise<string[]> {
  const ended: string[] = [];
  for (const terms of await stores.rows.all('care_terms', [onSite(siteId)])) {
    if (terms['to_day'] !== null && String(terms['to_day']) <= soldOn) continue;
    // Terms that had not begun end on the day they would have.
    const toDay = [soldOn, String(terms['from_day'])].sort().at(-1);
    await stores.rows.update('care_terms', String(terms['id']), { to_day: toDay });
    ended.push(String(terms['id']));
  }
  return ended;
}

async function endDecisions(stores: Stores, siteId: string, soldOn: IsoDate): Promise<string[]> {
  const ended: string[] = [];
  for (const decision of await stores.rows.all('decision', [onSite(siteId)])) {
    if (decision['ended_on'] !== null || String(decision['decided_on']) > soldOn) continue;
    await stores.rows.update('decision', String(decision['id']), { ended_on: soldOn });
    ended.push(String(decision['id']));
  }
  return ended;
}

async function archiveContacts(
  stores: Stores,
  siteId: string,
  today: IsoDate,
  kept: readonly string[],
): Promise<Row[]> {
  const contacts = await stores.rows.all('contact', [onSite(siteId), { column: 'archived_on', is: 'null' }]);
  const gone = contacts.filter((contact) => !kept.includes(String(contact['id'])));
  for (const contact of gone)
    await stores.rows.update('contact', String(contact['id']), { archived_on: today });
  return gone;
}

async function endFeeds(house: House, stores: Stores, siteId: string): Promise<string[]> {
  const feeds = await stores.rows.all('feed', [onSite(siteId), { column: 'revoked_at', is: 'null' }]);
  for (const feed of feeds) await revokeFeed(house, stores, String(feed['id']));
  return feeds.map((feed) => String(feed['id']));
}

async function withdrawOffers(house: House, stores: Stores, siteId: string): Promise<string[]> {
  const offered = await stores.rows.all('proposal', [
    onSite(siteId),
    { column: 'state', is: '=', value: 'offered' },
  ]);
  for (const proposal of offered)
    await withdrawProposal(house, stores, String(proposal['id']), 'the house was sold');
  return offered.map((proposal) => String(proposal['id']));
}

const ordersAhead = (stores: Stores, siteId: string): Promise<Row[]> =>
  stores.rows.all('work_order', [onSite(siteId), { column: 'state', is: 'in', value: AHEAD }], 'number');

async function endPromises(house: House, stores: Stores, orders: readonly Row[]): Promise<Row[]> {
  const told = await stores.rows.all('promise', [
    { column: 'work_order_id', is: 'in', value: orders.map((order) => order['id']) },
    { column: 'ended_at', is: 'null' },
  ]);
  const end = { ended_at: house.clock.now().toISOString(), ended_because: 'the house was sold' };
  for (const promise of told) await stores.rows.update('promise', String(promise['id']), end);
  return told;
}

/** Keys, hours and ways in that the seller told. */
function askedOfBuyer(site: Row, gone: readonly Row[]): Sale['toAsk'] {
  const asked: Sale['toAsk'] = [];
  const keyholders = gone.filter((contact) => /key/i.test(String(contact['role'])));
  if (keyholders.length > 0)
    asked.push({
      code: 'keys',
      facts: { contactIds: keyholders.map((contact) => contact['id']) },
      text: `${keyholders.map((contact) => String(contact['name'])).join(', ')} held a key: give back ours, and ask who lets a crew in now.`,
    });
  if (site['access_notes'] !== null)
    asked.push({
      code: 'access_notes',
      facts: { accessNotes: site['access_notes'] },
      text: `The notes on access are from the seller's time: ask whether they still hold, codes above all.`,
    });
  if ((site['hours'] as object[]).length > 0)
    asked.push({
      code: 'hours',
      facts: { hours: site['hours'] },
      text: 'The hours when somebody is home were the seller’s: ask for the buyer’s.',
    });
  return asked;
}

async function endOwnership(stores: Stores, siteId: string, soldOn: IsoDate): Promise<string | null> {
  const [owned] = await stores.rows.all('site_client', [
    { column: 'site_id', is: '=', value: siteId },
    { column: 'to_day', is: 'null' },
  ]);
  if (!owned) return null;
  if (owned['from_day'] !== null && String(owned['from_day']) >= soldOn)
    throw ruleBroken(
      'sale',
      '#/soldOn',
      `the house is its client's only from ${String(owned['from_day'])} on`,
      'a later day',
    );
  await stores.rows.update('site_client', String(owned['id']), { to_day: soldOn });
  return String(owned['client_id']);
}

async function beginOwnership(
  stores: Stores,
  siteId: string,
  sellerId: string | null,
  { buyer, soldOn }: SaleAsk,
): Promise<string | null> {
  if (buyer === null) return null;
  let buyerId: string;
  if ('clientId' in buyer) {
    const row = await stores.rows.get('client', buyer.clientId);
    if (!row || row['merged_into_id'] !== null)
      throw ruleBroken('sale', '#/buyer/clientId', 'is no client', 'a client, or name of a new one');
    if (buyer.clientId === sellerId)
      throw ruleBroken('sale', '#/buyer/clientId', 'owns the house already', 'another client');
    buyerId = buyer.clientId;
  } else {
    const { name, phone, email } = buyer;
    buyerId = String((await stores.rows.insert('client', { id: newId(), name, phone, email }))['id']);
  }
  await stores.rows.insert('site_client', {
    id: newId(),
    site_id: siteId,
    client_id: buyerId,
    from_day: soldOn,
  });
  return buyerId;
}

/** Each order not begun leaves its route and waits for the buyer's consent, once; what was asked of the seller is over. */
async function askBuyer(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  orders: readonly Row[],
  soldOn: IsoDate,
): Promise<Row[]> {
  const facts = { because: 'house sold', soldOn, askedBy: actor.name };
  const waiting: Row[] = [];
  for (const order of orders) {
    const id = String(order['id']);
    await takeOffRoute(stores, id, 'house sold');
    const [open] = await stores.rows.all('precondition', [
      { column: 'work_order_id', is: '=', value: id },
      { column: 'kind', is: '=', value: 'consent' },
      { column: 'state', is: '=', value: 'open' },
    ]);
    if (open) await stores.rows.update('precondition', String(open['id']), { facts });
    else await stores.rows.insert('precondition', { id: newId(), work_order_id: id, kind: 'consent', facts });
    waiting.push((await stores.rows.update('work_order', id, { state: 'wanted' })) ?? order);
  }
  return waiting;
}
