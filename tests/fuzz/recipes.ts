import { draftOf, type Recipe } from './asks.js';
import type { Operation } from './document.js';
import { listOf } from './pool.js';
import { BOOKS } from './recipes/books.js';
import { DESK } from './recipes/desk.js';
import { DIGGING } from './recipes/digging.js';
import { FINDINGS } from './recipes/findings.js';
import { ORDERS } from './recipes/orders.js';
import { PEOPLE } from './recipes/people.js';
import { PLANS } from './recipes/plans.js';
import { changeOf } from './recipes/shape.js';

/** How operations are asked that need more than a body of the right shape. */
const RECIPES: Record<string, Recipe> = {
  ...BOOKS,
  ...PEOPLE,
  ...FINDINGS,
  ...ORDERS,
  ...DIGGING,
  ...PLANS,
  ...DESK,
};

/** Items as the single operation takes them. */
const batchOf =
  (single: Operation): Recipe =>
  async (ground) => {
    const items: unknown[] = [];
    for (let n = ground.chance.whole(1, 2); n > 0; n--) {
      const draft = draftOf(single, ground);
      items.push({ ...draft, ...(await RECIPES[single.id]?.(ground, draft)) }.body);
    }
    return { body: { items } };
  };

/** The recipe of an operation: its own, or that of its kind. */
export function recipeOf(operation: Operation, all: readonly Operation[]): Recipe | undefined {
  const own = RECIPES[operation.id];
  if (own) return own;
  const list = listOf(operation.path);
  if (operation.method === 'PATCH') return changeOf(list);
  if (!operation.path.endsWith('/batch')) return undefined;
  const single = all.find(({ method, path }) => method === 'POST' && path === `/v1/${list}`);
  return single && batchOf(single);
}
