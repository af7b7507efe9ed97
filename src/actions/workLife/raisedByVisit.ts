import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { climb } from './climb.js';
import { holdRaised } from './gas.js';
import { gasVisitAt } from './gasVisit.js';
import { orderPitRepair } from './pitFaults.js';

interface RaisedAt {
  today: IsoDate;
  foundAt: string;
}

/** A plug found on a visit that did no work asks for its pump and its next rung all the same. */
export async function climbPlugs(
  stores: Stores,
  orderId: string,
  startedAt: string,
  from: RaisedAt,
): Promise<void> {
  const plugs = await stores.rows.all('inspection', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'plugged', is: '=', value: true },
    { column: 'observed_at', is: '>=', value: startedAt },
    { column: 'withdrawn_at', is: 'null' },
    { column: 'replaced_at', is: 'null' },
  ]);
  for (const lineId of new Set(plugs.map((plug) => String(plug['line_id']))))
    await climb(stores, lineId, { ...from, orderId });
}

/** Pits that the visit found something dead at are repaired, whatever the visit was for. */
export async function orderPitRepairs(stores: Stores, orderId: string, from: RaisedAt): Promise<void> {
  const looks = await stores.rows.all('inspection', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'pit_id', is: 'not-null' },
  ]);
  for (const pitId of new Set(looks.map((look) => String(look['pit_id']))))
    await orderPitRepair(stores, pitId, { ...from, orderId });
}

/**
 * Something is heard of that a visit found or did before gas ended it: what its end raised is raised by all that is
 * known now, and waits for the gas.
 *
 * @returns Whether it is of such a visit.
 */
export async function raiseLate(
  house: House,
  stores: Stores,
  orderId: string | null,
  at: string,
  siteId: unknown,
): Promise<boolean> {
  const left = orderId === null ? null : await gasVisitAt(stores, orderId, at);
  if (orderId === null || left === null) return false;
  const from = { today: house.zone.dayOf(new Date(left.endedAt)), foundAt: left.endedAt };
  await climbPlugs(stores, orderId, left.startedAt, from);
  await orderPitRepairs(stores, orderId, from);
  await holdRaised(stores, orderId, siteId);
  return true;
}
