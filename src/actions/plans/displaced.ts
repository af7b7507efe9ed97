import type { Row } from '../ports.js';

/** An order that would give way, as people know it, and what it would lose. */
export interface Displaced {
  workOrderId: string;
  number: number;
  address: string;
  town: string;
  client: string | null;
  promised: boolean;
  /** When its crew would have come; it waits for another place then. */
  startsAt: string | null;
}

/**
 * @param names Rows of `PlanStore.orderNames`.
 * @param startsAt When the crew comes to an order in the plan looked at; else as crews drive now.
 */
export function displacedOrders(
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
        startsAt: startsAt(id) ?? live,
      };
    });
}
