import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { CLOCK_OFF_MS } from '../notAhead.js';
import type { Row } from '../ports.js';
import { ruleBroken } from '../problems.js';

/** A crew begins a visit at most so many days before the day it is planned for (common practice, no source). */
const DAYS_EARLY = 7;

/**
 * Refuses a start from before the order was made, or from long before the day its route goes.
 *
 * @throws {Refused} `rule-broken` on `#/startedAt`.
 */
export async function refuseOldStart(
  house: House,
  stores: Stores,
  order: Row,
  startedAt: string,
  routeId: string | null,
): Promise<void> {
  const madeAt = Date.parse(String(order['created_at']));
  // The tables keep their own clock; an order they made ahead of the service's clock says nothing of its age.
  const isComparable = madeAt <= house.clock.now().getTime();
  if (isComparable && Date.parse(startedAt) < madeAt - CLOCK_OFF_MS)
    throw ruleBroken(
      'order-time',
      '#/startedAt',
      `${startedAt} lies before the order was made`,
      `${new Date(madeAt).toISOString()} or later; check the clock of the device`,
    );
  const route = routeId === null ? null : await stores.rows.get('route', routeId);
  if (!route) return;
  const earliest = addDays(String(route['day']) as IsoDate, -DAYS_EARLY);
  if (house.zone.dayOf(new Date(startedAt)) < earliest)
    throw ruleBroken(
      'order-time',
      '#/startedAt',
      `${startedAt} lies more than ${DAYS_EARLY} days before the day it is planned for, ${String(route['day'])}`,
      `${earliest} or later; check the clock of the device`,
    );
}
