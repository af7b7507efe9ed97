import { v5 as idOf, v7 as newId } from 'uuid';
import type { House, Stores } from '../house.js';
import { AHEAD } from '../openOrder.js';
import type { Actor, Row } from '../ports.js';
import { aroseAfter } from './gasVisit.js';
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

/** All that is still ahead at the house waits until it was made safe. */
export async function holdSite(stores: Stores, siteId: unknown, since: string): Promise<void> {
  const ahead = await stores.rows.all('work_order', [
    { column: 'site_id', is: '=', value: siteId },
    { column: 'state', is: 'in', value: AHEAD },
  ]);
  for (const { id } of ahead) {
    const held = await stores.rows.all('precondition', [
      { column: 'work_order_id', is: '=', value: id },
      { column: 'kind', is: '=', value: 'made_safe' },
      { column: 'state', is: '=', value: 'open' },
    ]);
    for (const row of held)
      if (aroseAfter(row, since))
        await stores.rows.update('precondition', String(row['id']), {
          facts: { ...(row['facts'] as object), since },
        });
    if (held.length === 0)
      await stores.rows.insert('precondition', {
        id: newId(),
        work_order_id: id,
        kind: 'made_safe',
        facts: { because: 'gas', since },
      });
  }
}

/** What was raised late, of a visit that gas ended, waits like all else at the house, unless that was made safe since. */
export async function holdRaised(stores: Stores, orderId: unknown, siteId: unknown): Promise<void> {
  const [open] = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'made_safe' },
    { column: 'state', is: '=', value: 'open' },
  ]);
  const since = (open?.['facts'] as { since?: string } | undefined)?.since;
  if (since !== undefined) await holdSite(stores, siteId, since);
}
