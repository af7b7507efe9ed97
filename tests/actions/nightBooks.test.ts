import { expect, test } from 'vitest';
import { NightBooks } from '../../src/actions/night/nightBooks.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import type { BlockRead } from '../../src/domain/fouling/lineRead.js';

const BLOCK = 500;
const MOST = 160_000;

/** How many of 400 blocks are kept, and whether those are the first. */
function kept(laws: number): { blocks: number; first: boolean } {
  const books = new NightBooks({ zone: businessZone('America/Chicago') }, '2026-10-05');
  const blocks = Array.from({ length: 400 }, (_, b) =>
    Array.from({ length: BLOCK }, (_, i) => `line ${b * BLOCK + i}`),
  );
  const read = { logLikelihood: Array.from({ length: laws }, () => new Float32Array()) } as BlockRead;
  for (const lineIds of blocks) books.keepRead(lineIds, read);
  const there = blocks.map((lineIds) => books.takeRead(lineIds) !== null);
  const count = there.filter(Boolean).length;
  return { blocks: count, first: there.slice(0, count).every(Boolean) };
}

test('what was read is kept while there is room, whatever the number of laws', () => {
  expect(kept(2)).toEqual({ blocks: MOST / (2 * BLOCK), first: true });
  // 53 blocks under six laws are 159,000.
  expect(kept(6)).toEqual({ blocks: 53, first: true });
});
