import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { newEvent } from './tell.js';

const DAY_MS = 86_400_000;

/** Tells the office, once a day and author, of what apps brought that is older than a day and still waits. */
export async function tellWaiting(house: House, stores: Stores, day: IsoDate): Promise<void> {
  const before = new Date(house.clock.now().getTime() - DAY_MS).toISOString();
  const waiting = await stores.sync.waitingSince(before);
  await stores.events.tell(
    waiting.map(({ author, id, happenedAt, items }) =>
      newEvent({
        type: 'sync_waiting',
        subjectId: id,
        once: `${id}:${day}`,
        facts: { author, items, happenedOn: house.zone.dayOf(new Date(happenedAt)) },
      }),
    ),
  );
}
