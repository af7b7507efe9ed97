import { isDeepStrictEqual } from 'node:util';
import { v5 as idOf } from 'uuid';
import type { SyncState } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { authorId } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { type Problem, Refused, ruleBroken } from '../problems.js';
import { applyWaiting } from './applySync.js';
import type { Need } from './needs.js';
import { orderOf, RESOURCES, recordOf, type SentItem, type UnreadItem } from './syncWork.js';

/** What became of one item that was sent. */
export interface ItemAnswer {
  id: string;
  state: SyncState;
  /** It had been settled before this call. */
  again: boolean;
  waitsFor: string[];
  problem: Problem | null;
  resource: string;
  recordId: string;
}

/**
 * Takes in what an app sent and settles all whose turn has come. Each item is kept by its id before anything is done
 * with it: in whatever order, however often and in however many calls they come, the same is done once.
 *
 * @param received `unread`: items that are not right, kept as refused.
 * @returns An answer for each item sent, in their order, and what others may have waited for.
 */
export async function receiveSync(
  house: House,
  stores: Stores,
  actor: Actor,
  { sent, unread }: { sent: readonly SentItem[]; unread: readonly UnreadItem[] },
): Promise<{ answers: ItemAnswer[]; brought: Need[] }> {
  const now = house.clock.now().toISOString();
  const first = new Map<string, SentItem>();
  for (const item of sent) {
    const other = first.get(item.id);
    if (other === undefined || isBefore(item, other)) first.set(item.id, item);
  }
  const fresh = await stores.sync.keep([...first.values()].map((item) => rowOf(actor, item, now)));
  const known = new Map((await stores.sync.lock([...first.keys()])).map((row) => [String(row['id']), row]));
  const clashing = new Set<SentItem>();
  for (const item of sent) {
    const row = known.get(item.id);
    if (!row) throw new RangeError(`item ${item.id} was not kept`);
    const isSame = item.fingerprint.equals(row['fingerprint'] as Buffer);
    if (row['state'] === 'refused' && (first.get(item.id) === item || isSame))
      await tryAgain(stores, actor, item, now);
    else if (isSameButAfter(item, row, actor)) await waitForFewer(stores, item, row);
    else if (!isSame) {
      clashing.add(item);
      await keepOther(house, stores, actor, item);
    }
  }
  const refused = unread.filter(({ id }) => !first.has(id)).map((item) => unreadRow(actor, item, now));
  if (refused.length > 0) await stores.sync.keepRefused(refused);
  const settledBefore = new Set(
    [...known.values()].flatMap((row) => (isSettled(row) ? [String(row['id'])] : [])),
  );
  const waitedBefore = new Set(
    [...known.values()].flatMap((row) =>
      row['state'] === 'waiting' && !fresh.has(String(row['id'])) ? [String(row['id'])] : [],
    ),
  );
  const brought = await applyWaiting(house, stores, actor, { ids: [...first.keys()], needs: [] });
  const isNew = (id: string) => !waitedBefore.has(id);
  await refuseTooMany(
    house,
    stores,
    actor,
    [...first.values()].filter(({ id }) => isNew(id)),
  );
  const after = new Map((await stores.sync.lock([...first.keys()])).map((row) => [String(row['id']), row]));
  if (refused.length > 0 || [...after.values()].some(({ state }) => state === 'refused'))
    await stores.sync.forgetRefused(authorId(actor), MOST_REFUSED);
  const seen = new Set<string>();
  const answers = sent.map((item) => {
    const again = seen.has(item.id) || (!fresh.has(item.id) && settledBefore.has(item.id));
    seen.add(item.id);
    return clashing.has(item) ? clashOf(item) : answerOf(item, after.get(item.id) ?? {}, again);
  });
  return { answers, brought };
}

/** So many items of one author may wait: an app that loses what others rest on is told so before it is in the way. */
const MOST_WAITING = 1000;

/**
 * So many refused items of one author are kept to be looked at; the answer tells what is wrong with any of them, and what
 * left nothing behind can be sent again.
 */
const MOST_REFUSED = 1000;

/** Of what came now and must wait, the latest are refused where too many wait. */
async function refuseTooMany(
  house: House,
  stores: Stores,
  actor: Actor,
  came: readonly SentItem[],
): Promise<void> {
  const waiting = await stores.sync.waitingCount(authorId(actor));
  if (waiting <= MOST_WAITING) return;
  const rows = new Map((await stores.sync.lock(came.map(({ id }) => id))).map((row) => [row['id'], row]));
  const latest = came
    .filter(({ id }) => rows.get(id)?.['state'] === 'waiting')
    .sort((a, b) => Date.parse(b.at) - Date.parse(a.at) || (a.id < b.id ? 1 : -1))
    .slice(0, waiting - MOST_WAITING);
  const { problem } = ruleBroken(
    'sync-waiting',
    '#/after',
    `${MOST_WAITING} of your items wait already for what has not come (GET /v1/sync-items?state=waiting)`,
    'send what they wait for, or give them up (POST /v1/sync-items/{id}/withdrawal); then send this again under its id',
  );
  await stores.sync.refuse(
    latest.map(({ id }) => id),
    problem,
    house.clock.now().toISOString(),
  );
}

/** Of two contents that came with one id in one call, the earlier is taken. */
const isBefore = (a: SentItem, b: SentItem): boolean =>
  a.at < b.at || (a.at === b.at && Buffer.compare(a.fingerprint, b.fingerprint) < 0);

const isSettled = (row: Row): boolean => row['state'] !== 'waiting' && row['state'] !== 'refused';

const authorRow = (actor: Actor, clockOffsetS: number): Row => ({
  author: actor.name,
  author_id: authorId(actor),
  key_id: actor.keyId,
  member_id: actor.memberId,
  roles: actor.roles,
  clock_offset_s: clockOffsetS,
});

const unreadRow = (actor: Actor, item: UnreadItem, now: string): Row => ({
  ...authorRow(actor, item.clockOffsetS),
  created_at: now,
  id: item.id,
  kind: item.kind,
  happened_at: item.at ?? now,
  work_order_id: item.workOrderId,
  after_ids: [],
  fingerprint: `\\x${item.fingerprint.toString('hex')}`,
  content: item.content,
  work: {},
  problem: item.problem,
  settled_at: now,
});

const rowOf = (actor: Actor, item: SentItem, now: string): Row => ({
  ...authorRow(actor, item.clockOffsetS),
  created_at: now,
  id: item.id,
  kind: item.work.kind,
  happened_at: item.at,
  work_order_id: orderOf(item.work),
  after_ids: item.afterIds,
  fingerprint: `\\x${item.fingerprint.toString('hex')}`,
  content: item.content,
  work: item.work,
});

/** What was refused left nothing behind: sent again, as it was or put right, it gets another chance. */
async function tryAgain(stores: Stores, actor: Actor, item: SentItem, now: string): Promise<void> {
  const { id, fingerprint: _, ...row } = rowOf(actor, item, now);
  await stores.rows.update('sync_item', String(id), {
    ...row,
    fingerprint: item.fingerprint,
    state: 'waiting',
    problem: null,
    settled_at: null,
  });
}

/** The author's own again, with other items to come first or the same. */
const isSameButAfter = (item: SentItem, row: Row, actor: Actor): boolean =>
  row['author_id'] === authorId(actor) &&
  isDeepStrictEqual({ ...item.content, after: null }, { ...(row['content'] as object), after: null });

/** It waits only for what it named each time: an item that will never be right is left out so, whichever came first. */
async function waitForFewer(stores: Stores, item: SentItem, row: Row): Promise<void> {
  const before = row['after_ids'] as string[];
  const named = before.filter((id) => item.afterIds.includes(id));
  if (row['state'] !== 'waiting' || named.length === before.length) return;
  await stores.rows.update('sync_item', item.id, { after_ids: named });
  row['after_ids'] = named;
}

/** The same id with other content: kept for a person, once however often it comes. */
async function keepOther(house: House, stores: Stores, actor: Actor, item: SentItem): Promise<void> {
  await stores.rows.insertMany(
    'conflict',
    [
      {
        id: idOf(item.fingerprint.toString('hex'), item.id),
        resource: RESOURCES[item.work.kind],
        resource_id: recordOf(item.id, item.work),
        author: actor.name,
        content: item.content,
        because: 'the id came before with other content',
        created_at: house.clock.now().toISOString(),
      },
    ],
    { skipDoubles: true },
  );
}

const clashOf = (item: SentItem): ItemAnswer => {
  const resource = RESOURCES[item.work.kind];
  const { problem } = new Refused({ code: 'id-taken', resource, id: item.id });
  return { id: item.id, state: 'conflict', again: false, waitsFor: [], problem, resource, recordId: item.id };
};

const answerOf = (item: SentItem, row: Row, again: boolean): ItemAnswer => ({
  id: item.id,
  state: row['state'] as SyncState,
  again,
  waitsFor: row['waits_for'] as string[],
  problem: row['problem'] as Problem | null,
  resource: RESOURCES[item.work.kind],
  recordId: recordOf(item.id, item.work),
});
