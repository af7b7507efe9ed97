import { takeOffRoute } from '../desk/publishing.js';
import type { Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';

/** What becomes of work that follows withdrawn work, the next parts of a dig and its restoration. */
export const FOLLOWING = ['withdraw', 'keep'] as const;
export type Following = (typeof FOLLOWING)[number];

/**
 * The work is not wanted any more. An order under way is finished, not withdrawn; a place on a live route is given up.
 * Work that follows it goes with it, or is kept and then follows what came before.
 *
 * @returns The order, and what followed it as it is now.
 * @throws {Refused} `not-found`, `wrong-state`.
 */
export async function withdrawWorkOrder(
  stores: Stores,
  id: string,
  because: string,
  following: Following,
): Promise<{ order: Row; followed: Row[] }> {
  const order = await openOrder(stores, id, 'Only work that has not begun is withdrawn.');
  const chain = await stores.workLife.chainAfter(id);
  const followed: Row[] = [];
  for (const later of chain)
    followed.push(
      following === 'keep'
        ? await keepAfter(stores, later, order)
        : await giveUpOrder(stores, later, `it followed order ${String(order['number'])}: ${because}`),
    );
  return { order: await giveUpOrder(stores, order, because), followed };
}

/** What followed the withdrawn order follows what that one followed; whoever plans it is told. */
async function keepAfter(stores: Stores, later: Row, order: Row): Promise<Row> {
  if (later['follows_id'] !== order['id']) return later;
  const id = String(later['id']);
  await tell(stores, {
    type: 'order_follows_no_more',
    subjectId: id,
    once: `${id}:${String(order['id'])}`,
    facts: { orderNumber: Number(later['number']), withdrawnNumber: Number(order['number']) },
    about: { workOrderId: id, siteId: String(later['site_id']) },
  });
  return (await stores.rows.update('work_order', id, { follows_id: order['follows_id'] })) ?? later;
}

/** Withdraws an order with its place on the route. */
export async function giveUpOrder(stores: Stores, order: Row, because: string): Promise<Row> {
  const id = String(order['id']);
  await takeOffRoute(stores, id, because);
  const change = { state: 'withdrawn', withdrawn_because: because };
  return (await stores.rows.update('work_order', id, change)) ?? order;
}
