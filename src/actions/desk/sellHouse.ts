import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

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
  /** Orders nobody has begun: the buyer decides; each waits for that consent. */
  toDecide: Row[];
}

/**
 * The house is another's from a day on. History stays; care terms and decisions of the seller end; open orders wait
 * for the buyer's word, and are listed.
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
  const onSite = [{ column: 'site_id', is: '=' as const, value: siteId }];
  const sellerId = await endOwnership(stores, siteId, ask.soldOn);
  const buyerId = await beginOwnership(stores, siteId, sellerId, ask);
  const endedTermIds: string[] = [];
  for (const terms of await stores.rows.all('care_terms', onSite)) {
    if (terms['to_day'] !== null && String(terms['to_day']) <= ask.soldOn) continue;
    // Terms that had not begun end on the day they would have.
    const toDay = [ask.soldOn, String(terms['from_day'])].sort().at(-1);
    await stores.rows.update('care_terms', String(terms['id']), { to_day: toDay });
    endedTermIds.push(String(terms['id']));
  }
  const endedDecisionIds: string[] = [];
  for (const decision of await stores.rows.all('decision', onSite)) {
    if (decision['ended_on'] !== null || String(decision['decided_on']) > ask.soldOn) continue;
    await stores.rows.update('decision', String(decision['id']), { ended_on: ask.soldOn });
    endedDecisionIds.push(String(decision['id']));
  }
  const archivedContactIds: string[] = [];
  for (const contact of await stores.rows.all('contact', onSite)) {
    if (contact['archived_on'] !== null || ask.keepContactIds.includes(String(contact['id']))) continue;
    await stores.rows.update('contact', String(contact['id']), { archived_on: today });
    archivedContactIds.push(String(contact['id']));
  }
  return {
    siteId,
    soldOn: ask.soldOn,
    sellerId,
    buyerId,
    endedTermIds,
    endedDecisionIds,
    archivedContactIds,
    toDecide: await askBuyer(stores, actor, siteId, ask.soldOn),
  };
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

/** Each order not begun waits for the buyer's consent, once. */
async function askBuyer(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  siteId: string,
  soldOn: IsoDate,
): Promise<Row[]> {
  const orders = await stores.rows.all(
    'work_order',
    [
      { column: 'site_id', is: '=', value: siteId },
      { column: 'state', is: 'in', value: ['wanted', 'placed'] },
    ],
    'number',
  );
  for (const order of orders) {
    const open = await stores.rows.count('precondition', [
      { column: 'work_order_id', is: '=', value: order['id'] },
      { column: 'kind', is: '=', value: 'consent' },
      { column: 'state', is: '=', value: 'open' },
    ]);
    if (open > 0) continue;
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: order['id'],
      kind: 'consent',
      facts: { because: 'house sold', soldOn, askedBy: actor.name },
    });
  }
  return orders;
}
