import { randomUUID } from 'node:crypto';
import { expect } from 'vitest';
import { type RoutedHouse, routedHouse } from './routedHouse.js';
import type { Json } from './testHouse.js';

/** When phones of these tests send: 15:00 in the afternoon. */
export const SENT_AT = '2026-10-01T20:00:00Z';

export interface SyncedHouse extends RoutedHouse {
  /** Of the technician Tern, whose route holds the order. */
  key: string;
  /** Sends items in one call; its answers. */
  sync(items: unknown[]): Promise<Json[]>;
}

/** A technician's house whose order has one line to look into, for tests of sync. */
export async function syncedHouse(): Promise<SyncedHouse> {
  const t = await routedHouse('2026-10-01', SENT_AT);
  const key = await t.keyOf('Tern');
  await t.house.stores.rows.insert('work_order_task', {
    id: randomUUID(),
    work_order_id: t.orderId,
    position: 1,
    kind: 'inspect',
    line_id: t.own.lineId,
    minutes: 20,
  });
  return {
    ...t,
    key,
    async sync(items) {
      const { status, body } = await t.as(key, 'POST', '/v1/sync', { sentAt: SENT_AT, items });
      expect(status, JSON.stringify(body)).toBe(200);
      return body.items;
    },
  };
}
