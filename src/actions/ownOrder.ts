import type { Stores } from './house.js';
import type { Row } from './ports.js';
import { ruleBroken } from './problems.js';

/**
 * What is found or done on a visit is on the visit's own site. An order that is not there is left to the database,
 * which names it.
 *
 * @throws {Refused} `rule-broken`.
 */
export async function refuseForeignOrder(
  stores: Stores,
  workOrderId: string | null,
  thing: Row,
  pointer: string,
): Promise<void> {
  const order = workOrderId === null ? null : await stores.rows.get('work_order', workOrderId);
  if (order !== null && order['site_id'] !== thing['site_id'])
    throw ruleBroken(
      'order-of-the-site',
      `${pointer}/workOrderId`,
      `order ${String(order['number'])} is of another site`,
      'an order of this site, or none',
    );
}
