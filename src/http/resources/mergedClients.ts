import type { Stores } from '../../actions/house.js';
import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';

/** What was merged stays as it was; the client it points to is changed. @throws {Refused} `rule-broken`. */
export function refuseMerged(old: Row | null): void {
  const kept = old?.['merged_into_id'] ?? null;
  if (kept === null) return;
  throw ruleBroken('merged', '#', `was merged into client ${String(kept)}`, `change client ${String(kept)}`);
}

/** What is new goes to the client that was kept. @throws {Refused} `rule-broken`. */
export async function refuseToMerged(stores: Stores, row: Row, old: Row | null): Promise<void> {
  const id = row['client_id'] ?? null;
  if (id === null || id === old?.['client_id']) return;
  const kept = (await stores.rows.get('client', String(id)))?.['merged_into_id'] ?? null;
  if (kept !== null)
    throw ruleBroken(
      'merged',
      '#/clientId',
      `was merged into client ${String(kept)}`,
      `client ${String(kept)}`,
    );
}
