import type { Operation } from './document.js';
import type { Answer } from './door.js';
import type { FuzzHouse } from './fuzzHouse.js';
import { listOf, type Pool } from './pool.js';

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/** Ids that lists show before the walk begins. */
export async function seePool(t: FuzzHouse, pool: Pool, operations: readonly Operation[]): Promise<void> {
  for (const operation of operations) {
    if (operation.method !== 'GET' || !/^\/v1\/[a-z-]+$/.test(operation.path)) continue;
    const needs = operation.parameters.filter(({ required }) => required);
    const query = needs
      .map(({ name }) => (name === 'day' ? 'day=2026-10-01' : `${name}=${t.places[0]?.siteId}`))
      .join('&');
    remember(operation, await t.door.as('owner', 'GET', `${operation.path}?${query}`), pool);
  }
}

/** Ids that an answer tells of. */
export function remember(operation: Operation, { body }: Answer, pool: Pool): void {
  const list = listOf(operation.path);
  const isWhole = /^\/v1\/[a-z-]+$/.test(operation.path);
  const seen = isWhole ? [body, ...(Array.isArray(body?.items) ? body.items : [])] : [];
  for (const each of seen) if (typeof each?.id === 'string' && UUID.test(each.id)) pool.add(list, each.id);
  for (const task of body?.tasks ?? [])
    if (typeof task?.id === 'string' && UUID.test(task.id)) pool.add('work-order-tasks', task.id);
}
