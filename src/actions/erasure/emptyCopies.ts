import { ERASED } from '../../domain/privacy/personWords.js';
import type { Stores } from '../house.js';

/** What the API calls the fields that are emptied in the person's own records. */
const EMPTIED: ReadonlySet<string> = new Set([
  'phone',
  'email',
  'note',
  'externalRef',
  'mayConsentTo',
  'callerName',
  'callerPhone',
]);

/**
 * Copies of the person's own records, as somebody sent them (conflicts) or was answered (idempotency keys), lose what the
 * records lose.
 */
export async function emptyCopies(stores: Stores, ids: readonly string[]): Promise<void> {
  const own = new Set(ids);
  for (const copy of await stores.erasures.copies(ids))
    await stores.erasures.rewriteCopy(copy, emptied(copy.content, own, copy.isOwn));
}

function emptied(value: unknown, own: ReadonlySet<string>, isOwn: boolean): unknown {
  if (Array.isArray(value)) return value.map((each) => emptied(each, own, false));
  if (typeof value !== 'object' || value === null) return value;
  const isHers = isOwn || own.has(String((value as Record<string, unknown>)['id']));
  return Object.fromEntries(
    Object.entries(value).map(([name, each]) => {
      if (isHers && EMPTIED.has(name)) return [name, null];
      return [name, isHers && name === 'name' ? ERASED : emptied(each, own, false)];
    }),
  );
}
