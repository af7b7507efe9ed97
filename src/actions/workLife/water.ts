import { v7 as newId } from 'uuid';
import type { WaterReceiver } from '../../domain/words.js';
import { referenceFor } from '../../domain/work/waterRules.js';
import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { recordIncident } from './incidents.js';

/** Where flushed water and sludge go, or went. */
export interface WaterGone {
  receiver: WaterReceiver;
  place: string | null;
  permitRef: string | null;
  waterL: number | null;
  sludgeL: number | null;
  sludgeTo: string | null;
}

const rowOf = (
  orderId: unknown,
  phase: 'planned' | 'recorded',
  water: WaterGone,
  at: string,
  author: string,
): Row => ({
  id: newId(),
  work_order_id: orderId,
  phase,
  receiver: water.receiver,
  place: water.place,
  permit_ref: water.permitRef,
  water_l: water.waterL,
  sludge_l: water.sludgeL,
  sludge_to: water.sludgeTo,
  at,
  author,
});

/**
 * Plans where the water of a visit goes; the order's discharge plan is met by it.
 *
 * @throws {Refused} A storm drain, water or sewer without a reference.
 */
export async function planWater(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  water: WaterGone,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', orderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: orderId });
  const now = house.clock.now().toISOString();
  await mayWorkOn(house, stores, actor, String(order['site_id']), now);
  const reference = referenceFor(water.receiver);
  if (reference !== null && (water.permitRef ?? '').trim() === '')
    throw ruleBroken(
      'discharge-plan',
      '#/permitRef',
      `${water.receiver} takes no water without a reference`,
      `${reference}, or catch the water`,
    );
  const planned = await stores.rows.insert('water_record', rowOf(orderId, 'planned', water, now, actor.name));
  for (const row of await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'discharge_plan' },
    { column: 'state', is: '=', value: 'open' },
  ]))
    await stores.rows.update('precondition', String(row['id']), {
      state: 'met',
      met_at: now,
      met_by: actor.name,
      facts: { receiver: water.receiver, permitRef: water.permitRef },
    });
  return planned;
}

/** Records where the water went. What went where it may not is an incident, with who must be told. */
export async function recordWater(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  water: WaterGone,
  at: string,
): Promise<Row> {
  const recorded = await stores.rows.insert(
    'water_record',
    rowOf(order['id'], 'recorded', water, at, actor.name),
  );
  if (referenceFor(water.receiver) !== null && (water.permitRef ?? '').trim() === '')
    await recordIncident(house, stores, actor, {
      id: newId(),
      kind: 'discharge',
      siteId: String(order['site_id']),
      workOrderId: String(order['id']),
      happenedAt: at,
      what: `flushed water went to ${water.receiver.replaceAll('_', ' ')}${water.place === null ? '' : ` (${water.place})`} without a reference`,
      consequence: 'none',
    });
  return recorded;
}
