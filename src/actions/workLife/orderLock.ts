import type { WorkOrderState } from '../../domain/words.js';
import { mayDo, nextState, type OrderEvent, statesFor } from '../../domain/work/orderLife.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

const NOT_NOW: Partial<Record<OrderEvent, string>> = {
  start: 'Only work that waits or is placed is started.',
};

/**
 * Locks an order for something that is to happen to it.
 *
 * @returns The order, and the state it will be in.
 * @throws {Refused} `not-found`, `not-yours`, `wrong-state`.
 */
export async function lockFor(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  at: string,
  event: OrderEvent,
): Promise<{ order: Row; next: WorkOrderState }> {
  const order = await stores.rows.lock('work_order', id);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id });
  if (liesAhead(house, at))
    throw ruleBroken(
      'order-time',
      event === 'start' ? '#/startedAt' : '#/endedAt',
      `${at} lies in the future`,
      'the moment it happened; check the clock of the device',
    );
  // Who began a visit may end it, whatever was planned meanwhile.
  if (event === 'start' || !(await isOwnAttempt(house, stores, actor, id)))
    await mayWorkOnOrder(house, stores, actor, order, at);
  if (!mayDo(actor.roles, event))
    throw new Refused({
      code: 'not-yours',
      resource: 'work_order',
      id,
      detail: 'Your key may not do this to an order.',
    });
  const state = order['state'] as WorkOrderState;
  const next = nextState(state, event);
  if (next === null)
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id,
      state,
      allowed: statesFor(event),
      detail: NOT_NOW[event] ?? 'The order is not in a state for this.',
    });
  return { order, next };
}

/** Whose crew began the visit that is under way, on the business's day on which it did. */
async function isOwnAttempt(house: House, stores: Stores, actor: Actor, id: string): Promise<boolean> {
  const [attempt] = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  if (!attempt || actor.memberId === null) return false;
  if (attempt['crew_id'] === null) return false;
  const day = house.zone.dayOf(new Date(String(attempt['started_at'])));
  const members = await stores.rows.all(
    'crew_membership',
    [
      { column: 'crew_id', is: '=', value: attempt['crew_id'] },
      { column: 'member_id', is: '=', value: actor.memberId },
      { column: 'from_day', is: '<=', value: day },
    ],
    'from_day',
  );
  return members.some(({ to_day: to }) => to === null || String(to) > day);
}
