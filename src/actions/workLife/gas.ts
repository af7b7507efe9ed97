import { v5 as idOf } from 'uuid';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { recordIncident } from './incidents.js';

/** Incidents that the service writes of gas by itself, by order and moment. */
const GAS_INCIDENTS = '6f1a0c52-2f0e-5a7b-9a54-3c3a4b0d7e11';

/** Gas on site is an incident, with who must be told at once; one, however often it is heard of. */
export async function recordGas(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  at: string,
  what: string,
): Promise<void> {
  // One that the crew wrote itself is another, whichever came first.
  const id = idOf(`${String(order['id'])} ${new Date(at).toISOString()}`, GAS_INCIDENTS);
  if ((await stores.rows.get('incident', id)) !== null) return;
  await recordIncident(house, stores, actor, {
    id,
    kind: 'gas',
    siteId: String(order['site_id']),
    workOrderId: String(order['id']),
    happenedAt: at,
    what,
    consequence: 'none',
  });
}
