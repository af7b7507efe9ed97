import type { SyncKind } from '../../domain/words.js';
import { happenedBefore, heldBy, type SyncPlace } from '../../domain/work/syncOrder.js';
import type { House, Stores } from '../house.js';
import { authorId } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { type Problem, Refused } from '../problems.js';
import { takeIdFor } from '../takeId.js';
import { doWork } from './doWork.js';
import { bringsOf, type Ground, kept, type Need, need, needsOf, openGround } from './needs.js';
import { fitsNoPrice, pricesMeant } from './pricesMeant.js';
import type { Came } from './syncStore.js';
import { RESOURCES, recordOf, type SyncWork } from './syncWork.js';

/** An item that is not settled, as its row has it. */
interface Pending extends SyncPlace {
  row: Row;
  work: SyncWork;
}

const pendingOf = (row: Row): Pending => ({
  id: String(row['id']),
  kind: row['kind'] as SyncKind,
  at: String(row['happened_at']),
  workOrderId: row['work_order_id'] === null ? null : String(row['work_order_id']),
  row,
  work: row['work'] as SyncWork,
});

/** So many of one author's waiting items are all looked at each time; of more only those that what came may concern. */
const ALL_LOOKED_AT = 100;

/**
 * Settles what waits of an author and may have its turn now.
 *
 * @param came Items that are new, and what others may have waited for.
 * @returns What others may have waited for.
 */
export async function applyWaiting(house: House, stores: Stores, actor: Actor, came: Came): Promise<Need[]> {
  const isFew = (await stores.sync.waitingCount(authorId(actor))) <= ALL_LOOKED_AT;
  if (isFew) return (await applyAmong(house, stores, actor, null)).brought;
  const brought: Need[] = [];
  // A price is taken as soon as it has come, settled or not.
  for (let next = came, isFirst = true; ; isFirst = false) {
    const turn = await applyAmong(house, stores, actor, next);
    brought.push(...turn.brought);
    if (turn.brought.length === 0 || !(turn.settledAny || isFirst)) return brought;
    next = { ids: [], needs: turn.brought };
  }
}

/**
 * Settles all waiting items of an author whose turn has come, in the order in which they happened, each in a savepoint
 * of its own; the rest is told what it waits for.
 *
 * @param among Null: all are looked at.
 */
async function applyAmong(
  house: House,
  stores: Stores,
  actor: Actor,
  among: Came | null,
): Promise<{ brought: Need[]; settledAny: boolean }> {
  const mine = authorId(actor);
  const isMine = ({ row }: Pending) => row['author_id'] === mine;
  let pending = (await stores.sync.waitingFor(mine, among)).map(pendingOf).sort(happenedBefore);
  await stores.sync.lockOrders(
    pending.flatMap(({ workOrderId }) => (workOrderId === null ? [] : [workOrderId])),
  );
  const brought = await pricesBrought(stores, pending);
  const ground = await openGround(house, stores, pending.filter(isMine).flatMap(afterOf));
  const accepted: string[] = [];
  const looking = rememberingRoutes(stores);
  const standing = await stores.keys.standing([...new Set(pending.filter(isMine).map(keyOf))]);
  let settledAny = false;
  for (let progressed = true; progressed; ) {
    progressed = false;
    for (const item of pending.filter(isMine)) {
      if (!(await hasTurn(stores, ground, item, pending))) continue;
      const became = await settle(house, looking, standing.has(keyOf(item)) ? actor : null, item);
      if (became === 'accepted') accepted.push(item.id);
      pending = pending.filter(({ id }) => id !== item.id);
      // Whatever names it in `after` waits until it is put right or taken out.
      if (became !== 'refused') {
        ground.changed(item.id, item.work);
        brought.push(...bringsOf(item.id, item.work));
      }
      progressed = true;
      settledAny = true;
    }
  }
  await stores.sync.accept(accepted, house.clock.now().toISOString());
  for (const item of pending.filter(isMine)) await tellWaiting(stores, ground, item, pending);
  return { brought, settledAny };
}

const keyOf = ({ row }: Pending): string => String(row['key_id']);
const afterOf = ({ row }: Pending): string[] => row['after_ids'] as string[];

/** Prices that items take as soon as they have come, whether or not their turn has. */
async function pricesBrought(stores: Stores, pending: readonly Pending[]): Promise<Need[]> {
  const brought: Need[] = [];
  for (const item of pending) {
    const { id, work } = item;
    if (work.kind !== 'price_acceptance') continue;
    if (work.price.taskId !== null) brought.push(...bringsOf(id, work).slice(1));
    else
      for (const { tasks } of await stores.sync.foundAmong(afterOf(item)))
        brought.push(...tasks.map((task) => need('price', task.id)));
  }
  return brought;
}

const needsOfItem = (item: Pending): Need[] => [
  ...afterOf(item).map((id) => need('item', id)),
  ...needsOf(item.work),
];

/** The start that a finish names has come, and somebody ended that visit before: there is none to wait for. */
const hasOwnStart = (ground: Ground, item: Pending): boolean =>
  item.kind === 'finish' && item.workOrderId !== null && ground.hasStarted(item.workOrderId, afterOf(item));

async function hasTurn(
  stores: Stores,
  ground: Ground,
  item: Pending,
  pending: readonly Pending[],
): Promise<boolean> {
  if (heldBy(item, pending).length > 0) return false;
  if (item.work.kind === 'price_acceptance' && (await fitsNoPrice(stores, item.work.price, afterOf(item))))
    return true;
  const open = await ground.unmet(needsOfItem(item), item.at);
  if (open.length === 0) return true;
  if (item.kind !== 'finish' || item.workOrderId === null) return false;
  if (!open.every((each) => each.startsWith('start:'))) return false;
  // Nothing is to come any more that this could end.
  return hasOwnStart(ground, item) || ground.wasLeft(item.workOrderId, item.at);
}

async function tellWaiting(
  stores: Stores,
  ground: Ground,
  item: Pending,
  pending: readonly Pending[],
): Promise<void> {
  const held = heldBy(item, pending).map((id) => need('item', id));
  const open = await ground.unmet([...new Set([...held, ...needsOfItem(item)])], item.at);
  if (open.join() !== (item.row['waits_for'] as string[]).join())
    await stores.rows.update('sync_item', item.id, { waits_for: open });
}

/** Whose route a site is on is asked by every item and changed by none. */
function rememberingRoutes(stores: Stores): Stores {
  const known = new Map<string, Promise<boolean>>();
  const isOnRouteOf: Stores['work']['isOnRouteOf'] = (...of) =>
    kept(known, of.join(), () => stores.work.isOnRouteOf(...of));
  return { ...stores, work: { ...stores.work, isOnRouteOf } };
}

/**
 * @param actor Null: the key that it came with may not come in any more.
 * @returns What became of it; that it was done is written down for all such items at once.
 */
async function settle(
  house: House,
  stores: Stores,
  actor: Actor | null,
  item: Pending,
): Promise<'accepted' | 'conflict' | 'refused'> {
  const problem = await problemOf(() =>
    stores.within(async () => {
      if (actor === null) throw keyGone(item);
      const isNew = await takeIdFor(stores, RESOURCES[item.kind], item.id, item.row['fingerprint'] as Buffer);
      if (!isNew) return;
      for (const work of await meantBy(stores, item)) await doWork(house, stores, actor, work);
    }),
  );
  if (problem === null) return 'accepted';
  const state = actor === null || isConflict(problem) ? 'conflict' : 'refused';
  if (state === 'conflict') await keepForPerson(stores, { ...item, because: new Refused(problem).message });
  await stores.rows.update('sync_item', item.id, {
    state,
    problem,
    waits_for: [],
    settled_at: house.clock.now().toISOString(),
  });
  return state;
}

/** It may be true all the same: the office looks, and nothing is done by itself. */
const keyGone = ({ id }: Pending): Refused =>
  new Refused({
    code: 'not-yours',
    resource: 'sync_item',
    id,
    detail:
      'It came with a key that was revoked or ran out, or of a person who has left, before its turn came. The office looks at it: what is true of it is written down at its own address.',
  });

/** A price that names no task and came after found work is of that work's tasks. */
const meantBy = async (stores: Stores, { work, row }: Pending): Promise<SyncWork[]> =>
  work.kind === 'price_acceptance' && work.price.taskId === null
    ? (await pricesMeant(stores, work.price, row['after_ids'] as string[])).map((price) => ({
        ...work,
        price,
      }))
    : [work];

/** What the database is too busy for, or away for, is no answer: the whole call is asked again. */
async function problemOf(work: () => Promise<void>): Promise<Problem | null> {
  try {
    await work();
    return null;
  } catch (error) {
    if (!(error instanceof Refused) || error.problem.code === 'busy' || error.problem.code === 'unavailable')
      throw error;
    return error.problem;
  }
}

/** Somebody else said otherwise before: nothing is wrong with the item, and a person decides. */
const isConflict = ({ code }: Problem): boolean =>
  code === 'id-taken' || code === 'wrong-state' || code === 'clash';

/** What an item says, kept as a conflict. */
export async function keepForPerson(
  stores: Stores,
  { row, work, because }: { row: Row; work: SyncWork; because: string },
): Promise<void> {
  await stores.rows.insertMany(
    'conflict',
    [
      {
        id: row['id'],
        resource: RESOURCES[work.kind],
        resource_id: recordOf(String(row['id']), work),
        author: row['author'],
        content: row['content'],
        because,
        created_at: row['created_at'],
      },
    ],
    { skipDoubles: true },
  );
}

const TURNS = 20;

/** As the author's key stands now; one that may not come in any more may do nothing. */
async function actorNow(house: House, row: Row): Promise<Actor> {
  const keyId = String(row['key_id']);
  const now = (await house.stores.keys.standing([keyId])).get(keyId);
  if (now !== undefined) return now;
  const memberId = row['member_id'] === null ? null : String(row['member_id']);
  return { keyId, name: String(row['author']), roles: [], memberId };
}

/**
 * Settles what others sent and could not be settled before this came, each author's in a transaction in that
 * author's name. What cannot be done now is done at their next sync.
 */
export async function applyForOthers(house: House, brought: readonly Need[]): Promise<void> {
  let news = brought;
  for (let turn = 0; turn < TURNS && news.length > 0; turn++) {
    const authors = await house.stores.sync.authorsWaitingFor(news);
    const came = news;
    news = [];
    for (const row of authors) {
      const actor = await actorNow(house, row);
      news = [
        ...news,
        ...(await house.transact(actor, (stores) =>
          applyWaiting(house, stores, actor, { ids: [], needs: [...came] }),
        )),
      ];
    }
  }
}
