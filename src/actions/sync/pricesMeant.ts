import type { SyncState } from '../../domain/words.js';
import type { Stores } from '../house.js';
import { ruleBroken } from '../problems.js';
import type { PriceAcceptance } from '../workLife/priceAcceptance.js';

/**
 * A price that names no task, as those of the found work it comes after; the order's own where it comes after none.
 *
 * @param afterIds Items that it comes after.
 * @throws {Refused} `rule-broken`: the found work was refused, or has several prices that are not this in sum.
 */
export async function pricesMeant(
  stores: Stores,
  price: PriceAcceptance,
  afterIds: readonly string[],
): Promise<PriceAcceptance[]> {
  const found = await stores.sync.foundAmong(afterIds);
  const tasks = found.flatMap((item) => item.tasks);
  if (found.length === 0 || (tasks.length === 0 && !found.some(wasNotTaken))) return [price];
  const sum = sumOf(tasks);
  if (tasks.length > 1 && sum !== price.amountMinor)
    throw ruleBroken(
      'price',
      '#/amountMinor',
      `is not ${sum}, the sum of the ${tasks.length} prices of the found work`,
      'that sum, or one price_acceptance with taskId for each task',
    );
  if (found.some(wasNotTaken))
    throw ruleBroken(
      'price',
      '#/after',
      'the found work it is for was not taken',
      'put the found work right and send both again, each under its id',
    );
  if (tasks.length === 1) return tasks.map(({ id }) => ({ ...price, taskId: id }));
  return tasks.map(({ id, priceMinor }) => ({ ...price, taskId: id, amountMinor: priceMinor }));
}

/** What is settled in the same call reads as waiting until all of it is. */
const wasNotTaken = ({ state }: { state: SyncState }): boolean => state !== 'accepted' && state !== 'waiting';

/** Whether it can never be: several prices are open and this is not their sum. */
export async function fitsNoPrice(
  stores: Stores,
  price: PriceAcceptance,
  afterIds: readonly string[],
): Promise<boolean> {
  if (price.taskId !== null) return false;
  const tasks = (await stores.sync.foundAmong(afterIds)).flatMap((item) => item.tasks);
  return tasks.length > 1 && sumOf(tasks) !== price.amountMinor;
}

const sumOf = (tasks: readonly { priceMinor: number }[]): number =>
  tasks.reduce((total, { priceMinor }) => total + priceMinor, 0);
