import type { House } from '../house.js';
import { filesOf } from './receiveFile.js';

const HOUR_MS = 3_600_000;
/** No upload takes so long; what lies unclaimed after it was left by one that failed. */
const LEFT_LYING_MS = 24 * HOUR_MS;

/**
 * Removes files that no record points to: of uploads that broke off between disk and database.
 *
 * @returns How many.
 */
export async function sweepFiles(house: House): Promise<number> {
  const { store } = filesOf(house);
  const keys = await store.keysBefore(new Date(house.clock.now().getTime() - LEFT_LYING_MS));
  const ids = [...new Set(keys.map((key) => key.slice(0, 36)))];
  const rows = await house.stores.rows.all('stored_file', [{ column: 'id', is: 'in', value: ids }]);
  const known = new Set(
    rows.flatMap((row) => [row['original_key'], row['public_key'], row['thumbnail_key']]),
  );
  const lost = keys.filter((key) => !known.has(key));
  for (const key of lost) await store.remove(key);
  return lost.length;
}
