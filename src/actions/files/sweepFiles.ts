import { addDays } from '../../domain/calendar/isoDate.js';
import type { House } from '../house.js';
import { filesOf } from './receiveFile.js';

const HOUR_MS = 3_600_000;
/** No upload takes so long; what lies unclaimed after it was left by one that failed. */
const LEFT_LYING_MS = 24 * HOUR_MS;
/** Broken uploads are few: more than this share, and more than a handful, is a sign of the wrong database. */
const MOST_SHARE = 0.1;
const A_HANDFUL = 20;
const ASIDE_DAYS = 30;
/** An app that brings bytes brings what they show with them, or when it has reach again; a sync waits no longer. */
export const UNTOLD_DAYS = 30;

export interface Swept {
  /** Files that no record points to, of uploads that broke off between disk and database. */
  lost: string[];
  /** Of how many looked at. */
  of: number;
  /** Too many to be broken uploads: all of them stay where they are. */
  stopped: boolean;
}

/**
 * Moves files that no record points to aside, into a folder of the day, and those of which nobody said in a month what they
 * show; what lies aside for a month goes.
 */
export async function sweepFiles(house: House): Promise<Swept> {
  const { store } = filesOf(house);
  const now = house.clock.now();
  await forgetUntold(house);
  const keys = await store.keysBefore(new Date(now.getTime() - LEFT_LYING_MS));
  const ids = [...new Set(keys.map((key) => key.slice(0, 36)))];
  const rows = await house.stores.rows.all('stored_file', [{ column: 'id', is: 'in', value: ids }]);
  const known = new Set(
    rows.flatMap((row) => [row['original_key'], row['public_key'], row['thumbnail_key']]),
  );
  const lost = keys.filter((key) => !known.has(key));
  if (lost.length > A_HANDFUL && lost.length > keys.length * MOST_SHARE)
    return { lost, of: keys.length, stopped: true };
  const today = house.zone.dayOf(now);
  for (const key of lost) await store.putAside(key, today);
  await store.forgetAside(addDays(today, -ASIDE_DAYS));
  return { lost, of: keys.length, stopped: false };
}

async function forgetUntold(house: House): Promise<void> {
  const { store } = filesOf(house);
  const now = house.clock.now();
  const before = new Date(now.getTime() - UNTOLD_DAYS * 24 * HOUR_MS).toISOString();
  const forgotten = await house.transact({ name: 'file watch' }, async ({ rows }) => {
    const old = await rows.all('stored_file', [{ column: 'created_at', is: '<', value: before }]);
    const ids = old.map(({ id }) => id);
    const told = await rows.all('attachment', [{ column: 'id', is: 'in', value: ids }]);
    const known = new Set(told.map(({ id }) => id));
    const untold = old.filter(({ id }) => !known.has(id));
    for (const { id } of untold) await rows.remove('stored_file', String(id));
    return untold;
  });
  for (const { original_key, public_key, thumbnail_key } of forgotten)
    for (const key of [original_key, public_key, thumbnail_key])
      if (typeof key === 'string') await store.putAside(key, house.zone.dayOf(now));
}
