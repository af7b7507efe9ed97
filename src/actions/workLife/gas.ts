import { v7 as newId } from 'uuid';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { recordIncident } from './incidents.js';

/** Gas on site is an incident, with who must be told at once. */
export async function recordGas(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  at: string,
  what: string,
): Promise<void> {
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
