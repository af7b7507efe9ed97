import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { settleTask } from './taskResults.js';

/** A price that somebody took on the spot, or did not. */
export interface PriceAcceptance {
  id: string;
  workOrderId: string;
  /** Of one task; null: of the whole order, as its quote. */
  taskId: string | null;
  by: string;
  amountMinor: number;
  /** When it was said. */
  acceptedAt: string;
  /** The client said no. */
  declined: boolean;
}

/**
 * Writes down who took which price and when, or did not. For a task it is the task's, which is not done when the price
 * was declined; for an order it is the quote it waited for, and waits for again. Of two that were said of one thing
 * the later counts.
 *
 * @throws {Refused} `wrong-state` on withdrawn work, or for a no to work that is done; `rule-broken` for a task of another order.
 */
export async function acceptPrice(
  house: House,
  stores: Stores,
  actor: Actor,
  price: PriceAcceptance,
): Promise<void> {
  const order = await stores.rows.lock('work_order', price.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: price.workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, price.acceptedAt);
  if (liesAhead(house, price.acceptedAt))
    throw ruleBroken(
      'price',
      '#/acceptedAt',
      `${price.acceptedAt} lies in the future`,
      'the moment it was accepted',
    );
  if (order['state'] === 'withdrawn')
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id: price.workOrderId,
      state: 'withdrawn',
      allowed: ['wanted', 'placed', 'under_way', 'done'],
      detail: 'The work is not wanted any more.',
    });
  if (price.declined && order['state'] === 'done')
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id: price.workOrderId,
      state: 'done',
      allowed: ['wanted', 'placed', 'under_way'],
      detail: 'The work is done.',
    });
  if (price.taskId === null) await answerQuote(stores, price);
  else await answerForTask(stores, order, price, price.taskId);
}

/** Whether a price said then counts, by when one was taken or declined before; of the same moment a no does. */
function counts(said: readonly unknown[], { acceptedAt, declined }: PriceAcceptance): boolean {
  const before = said.flatMap((at) => (at === null || at === undefined ? [] : [Date.parse(String(at))]));
  const last = Math.max(...before, Number.NEGATIVE_INFINITY);
  return last < Date.parse(acceptedAt) || (declined && last === Date.parse(acceptedAt));
}

async function answerForTask(
  stores: Stores,
  order: Row,
  price: PriceAcceptance,
  taskId: string,
): Promise<void> {
  const task = await stores.rows.get('work_order_task', taskId);
  if (!task || task['work_order_id'] !== price.workOrderId)
    throw ruleBroken('price', '#/taskId', 'is no task of this order', 'the id of one of its tasks, or none');
  if (!counts([task['accepted_at'], task['declined_at']], price)) return;
  await stores.rows.update('work_order_task', taskId, {
    price_minor: price.amountMinor,
    ...(price.declined
      ? { accepted_by: null, accepted_at: null, declined_by: price.by, declined_at: price.acceptedAt }
      : { accepted_by: price.by, accepted_at: price.acceptedAt, declined_by: null, declined_at: null }),
  });
  const wasDeclined = task['declined_at'] !== null;
  if (order['state'] !== 'done' && (price.declined || wasDeclined))
    await settleTask(stores, taskId, price.workOrderId, price.acceptedAt);
}

async function answerQuote(stores: Stores, price: PriceAcceptance): Promise<void> {
  const quotes = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: price.workOrderId },
    { column: 'kind', is: '=', value: 'quote_accepted' },
  ]);
  const quote = quotes.find((row) => row['state'] === 'open') ?? quotes[0];
  const before = (quote?.['facts'] ?? {}) as QuoteFacts;
  if (!counts([before.acceptedAt, before.declinedAt], price)) return;
  const answered: Row = price.declined ? declinedQuote(price, quote, before) : acceptedQuote(price, before);
  if (quote) await stores.rows.update('precondition', String(quote['id']), answered);
  else
    await stores.rows.insert('precondition', {
      id: price.id,
      work_order_id: price.workOrderId,
      kind: 'quote_accepted',
      ...answered,
    });
  const priceMinor = price.declined ? null : price.amountMinor;
  await stores.rows.update('work_order', price.workOrderId, { price_minor: priceMinor });
}

interface QuoteFacts extends Row {
  acceptedAt?: string;
  declinedAt?: string;
}

function acceptedQuote({ by, amountMinor, acceptedAt }: PriceAcceptance, facts: QuoteFacts): Row {
  const { declinedBy: _, declinedAt: __, since: ___, ...kept } = facts;
  return { state: 'met', met_at: acceptedAt, met_by: by, facts: { ...kept, by, amountMinor, acceptedAt } };
}

/** What began before the client said no was not kept from it, where no quote was asked for. */
function declinedQuote(
  { by, amountMinor, acceptedAt }: PriceAcceptance,
  quote: Row | undefined,
  facts: QuoteFacts,
): Row {
  const { by: _, acceptedAt: __, ...kept } = facts;
  const since = quote === undefined ? { since: acceptedAt } : {};
  return {
    state: 'open',
    met_at: null,
    met_by: null,
    facts: { ...kept, declinedBy: by, amountMinor, declinedAt: acceptedAt, ...since },
  };
}
