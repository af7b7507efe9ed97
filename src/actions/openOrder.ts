import type { Stores } from './house.js';
import type { Row } from './ports.js';
import { Refused } from './problems.js';

/** States of work that has not begun. */
export const AHEAD = ['wanted', 'placed'];

/**
 * An order that is still ahead, locked until the transaction ends.
 *
 * @param only Says why another one is refused.
 * @throws {Refused} `not-found`; `wrong-state` once it has begun or is over.
 */
export async function openOrder(
  stores: Stores,
  id: string,
  only = 'Only work that is still ahead has a place to change.',
): Promise<Row> {
  const order = await stores.rows.lock('work_order', id);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id });
  const state = String(order['state']);
  if (!AHEAD.includes(state))
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id,
      state,
      allowed: AHEAD,
      detail: only,
    });
  return order;
}
