import { createHash } from 'node:crypto';
import { NOBODY, type Stores } from './house.js';
import { Refused } from './problems.js';

export function fingerprint(...parts: unknown[]): Buffer {
  return createHash('sha256').update(JSON.stringify(parts)).digest();
}

/**
 * Takes an id its sender chose. `true`: new, go on. `false`: the same id with the same content came before,
 * answer with what is there.
 *
 * @throws {Refused} `id-taken` when the id came with other content; whoever took it in keeps that as a conflict.
 */
export function takeId(stores: Stores, resource: string, id: string, content: unknown): Promise<boolean> {
  return takeIdFor(stores, resource, id, fingerprint(resource, content));
}

/** The same by the fingerprint of resource and content. */
export async function takeIdFor(
  stores: Stores,
  resource: string,
  id: string,
  print: Buffer,
): Promise<boolean> {
  const claim = await stores.claims.take(NOBODY, `id:${id}`, print);
  if (claim.kind === 'other-content') throw new Refused({ code: 'id-taken', resource, id });
  return claim.kind === 'taken';
}
