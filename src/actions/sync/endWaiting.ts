import { waitsInWords } from '../../domain/work/waitsInWords.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { newEvent } from '../telling/tell.js';
import { applyForOthers, keepForPerson } from './applySync.js';
import { type Need, need } from './needs.js';
import type { SyncWork } from './syncWork.js';

const DAY_MS = 86_400_000;
/** So often what goes on in its stead is looked at anew; what is left is ended the next night. */
const ROUNDS = 100;

/**
 * What apps brought and waits for too long becomes a conflict, and the office hears of it. First what waits for
 * nothing that waits itself: what waited for that goes on.
 *
 * @returns How many items became conflicts.
 */
export async function endWaiting(house: House, by: string): Promise<number> {
  let ended = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const brought = await house.transact({ name: by }, (stores) => endOldest(house, stores));
    if (brought.length === 0) break;
    ended += brought.length;
    await applyForOthers(house, brought);
  }
  return ended;
}

async function endOldest(house: House, stores: Stores): Promise<Need[]> {
  const { waitingDays } = (await ownerSettings(stores)).keeping;
  const now = house.clock.now();
  const items = await stores.sync.waitedSince(new Date(now.getTime() - waitingDays * DAY_MS).toISOString());
  for (const row of items) await endOne(stores, row, waitingDays, now.toISOString());
  await stores.events.tell(
    [...new Set(items.map((row) => row['author_id']))].map((authorId) => {
      const own = items.filter((row) => row['author_id'] === authorId);
      const [first] = own as [Row];
      return newEvent({
        type: 'sync_waiting',
        subjectId: String(first['id']),
        once: `${String(first['id'])}:ended`,
        facts: {
          author: String(first['author']),
          items: own.length,
          happenedOn: house.zone.dayOf(new Date(String(first['happened_at']))),
          endedAfterDays: waitingDays,
        },
      });
    }),
  );
  return items.map((row) => need('item', String(row['id'])));
}

async function endOne(stores: Stores, row: Row, waitingDays: number, now: string): Promise<void> {
  const { problem } = ruleBroken(
    'sync-waiting',
    '#',
    `waited ${waitingDays} days. ${waitsInWords(row['waits_for'] as string[]) ?? ''}`.trim(),
    'the office looks at it: what is still true of it is written down at its own address',
  );
  await keepForPerson(stores, {
    row: { ...row, created_at: now },
    work: row['work'] as SyncWork,
    because: new Refused(problem).message,
  });
  await stores.rows.update('sync_item', String(row['id']), {
    state: 'conflict',
    problem,
    waits_for: [],
    settled_at: now,
  });
}
