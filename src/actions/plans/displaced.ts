import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { callText } from './calls.js';

/** An order that would give way, as people know it, and what it would lose. */
export interface Displaced {
  workOrderId: string;
  number: number;
  address: string;
  town: string;
  client: string | null;
  promised: boolean;
  cause: string;
  /** By when somebody must be there; null: no such time. */
  respondBy: string | null;
  /** What the call was, in words; null: no call. */
  call: string | null;
  /** When its crew would have come; it waits for another place then. */
  startsAt: string | null;
}

/**
 * @param names Rows of `PlanStore.orderNames`.
 * @param startsAt When the crew comes to an order in the plan looked at; else as crews drive now.
 */
export function displacedOrders(
  house: House,
  ids: readonly string[],
  names: readonly Row[],
  isPromised: (orderId: string) => boolean,
  startsAt: (orderId: string) => string | null = () => null,
): Displaced[] {
  return names
    .filter((row) => ids.includes(String(row['id'])))
    .map((row) => {
      const id = String(row['id']);
      const live = row['starts_at'] === null ? null : String(row['starts_at']);
      return {
        workOrderId: id,
        number: Number(row['number']),
        address: String(row['address']),
        town: String(row['town']),
        client: row['client'] === null ? null : String(row['client']),
        promised: isPromised(id),
        cause: String(row['cause']),
        respondBy: row['respond_by'] === null ? null : String(row['respond_by']),
        call: callText(house, row),
        startsAt: startsAt(id) ?? live,
      };
    });
}
