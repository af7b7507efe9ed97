import { v7 as newId } from 'uuid';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { recordIncident } from './incidents.js';

/** Gas on site is an incident, with who must be told at once; one, however often it is heard of. */
export async function recordGas(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  at: string,
  what: string,
): Promise<void> {
  const known = await stores.rows.count('incident', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'kind', is: '=', value: 'gas' },
    { column: 'happened_at', is: '=', value: at },
  ]);
  if (known > 0) return;
  await recordIncident(house, stores, actor, {
    id: newId(),
    kind: 'gas',
    siteId: String(order['site_id']),
    workOrderId: String(order['id']),
    happenedAt: at,
    what,
    consequence: 'none',
  });
}
