import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

/** A price that somebody took on the spot. */
export interface PriceAcceptance {
  id: string;
  workOrderId: string;
  /** Of one task; null: of the whole order, as its quote. */
  taskId: string | null;
  by: string;
  amountMinor: number;
  acceptedAt: string;
}

/**
 * Writes down who took which price and when. For a task it is the task's; for an order it is the quote it waited for.
 * Of two that were said of one thing the later counts.
 *
 * @throws {Refused} `wrong-state` on withdrawn work, `rule-broken` for a task of another order.
 */
export async function acceptPrice(
  house: House,
  stores: Stores,
  actor: Actor,
  price: PriceAcceptance,
): Promise<void> {
  const order = await stores.rows.lock('work_order', price.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: price.workOrderId });
  await mayWorkOn(house, stores, actor, String(order['site_id']), price.acceptedAt);
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
  if (price.taskId === null) await acceptQuote(stores, price);
  else await acceptForTask(stores, price, price.taskId);
}

const isLater = (than: unknown, at: string): boolean =>
  than === null || than === undefined || Date.parse(String(than)) < Date.parse(at);

async function acceptForTask(stores: Stores, price: PriceAcceptance, taskId: string): Promise<void> {
  const task = await stores.rows.get('work_order_task', taskId);
  if (!task || task['work_order_id'] !== price.workOrderId)
    throw ruleBroken('price', '#/taskId', 'is no task of this order', 'the id of one of its tasks, or none');
  if (!isLater(task['accepted_at'], price.acceptedAt)) return;
  await stores.rows.update('work_order_task', taskId, {
    price_minor: price.amountMinor,
    accepted_by: price.by,
    accepted_at: price.acceptedAt,
  });
}

async function acceptQuote(stores: Stores, price: PriceAcceptance): Promise<void> {
  const quotes = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: price.workOrderId },
    { column: 'kind', is: '=', value: 'quote_accepted' },
  ]);
  const quote = quotes.find((row) => row['state'] === 'open') ?? quotes[0];
  const facts = (quote?.['facts'] ?? {}) as { acceptedAt?: string };
  if (!isLater(facts.acceptedAt, price.acceptedAt)) return;
  const met: Row = {
    state: 'met',
    met_at: price.acceptedAt,
    met_by: price.by,
    facts: { ...facts, by: price.by, amountMinor: price.amountMinor, acceptedAt: price.acceptedAt },
  };
  if (quote) await stores.rows.update('precondition', String(quote['id']), met);
  else
    await stores.rows.insert('precondition', {
      id: price.id,
      work_order_id: price.workOrderId,
      kind: 'quote_accepted',
      ...met,
    });
  await stores.rows.update('work_order', price.workOrderId, { price_minor: price.amountMinor });
}
